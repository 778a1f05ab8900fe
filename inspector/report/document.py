"""Convert an inspection to a JSON document (RFC 8259) in format 2. Later versions of meshqc may only add fields."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from inspector import __version__
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.inspection.inspection import FolderInspection, Inspection, NotASequence
from inspector.names import Name
from inspector.report.curves import centre_speed, fastest_vertex
from inspector.rules.model import Rules
from inspector.sequence.discovery.settings import frame_json
from inspector.sequence.materials.references import Status
from inspector.sequence.series import Series

FORMAT = 2

Json = dict[str, object]


def folder_document(result: FolderInspection) -> Json:
    """Convert the inspection of a folder to a JSON document.

    Numbers are finite or None. In names, bytes that are not UTF-8 become surrogate escapes. Paths are relative to the
    path under the key `folder`.
    """
    return {
        **head(),
        "folder": Name.from_path(result.root).text,
        "verdict": verdict(result),
        "rules": _rules(result.settings.rules),
        "sequences": [_sequence(one) for one in result.inspections],
        "not_sequences": [_not_a_sequence(one) for one in result.not_sequences],
        "not_inspected": [
            {"file": Name.from_path(path.relative_to(result.root)).text, "reason": reason}
            for path, reason in result.discovery.left_out
        ],
    }


def head() -> Json:
    """Return the start of every document: the format version and the tool."""
    return {"format": FORMAT, "tool": {"name": "meshqc", "version": __version__}}


def verdict(result: FolderInspection) -> dict[str, int]:
    """Count the findings over all sequences, under the keys `errors`, `warnings` and `notes`."""
    return {f"{severity.word}s": result.count(severity) for severity in reversed(Severity)}


def _rules(rules: Rules) -> Json | None:
    """Describe the rules that were applied, and the checks that they change; None if no rules were applied."""
    if rules.file is None:
        return None
    return {
        "file": Name.from_path(rules.file).text,
        "demands": list(rules.demands),
        "checks": [
            {"check": check, "severity": rule.severity, "thresholds": dict(rule.thresholds), "reason": rule.reason}
            for check, rule in rules.checks.items()
        ],
    }


def _sequence(one: Inspection) -> Json:
    sequence, series = one.sequence, one.series
    return {
        "name": sequence.name.text,
        "folder": sequence.relative.text,
        "pattern": sequence.pattern.text,
        "first": frame_json(sequence.files[0].number),
        "last": frame_json(sequence.files[-1].number),
        "step": frame_json(sequence.step),
        "count": len(sequence.files),
        "missing": [frame_json(number) for number in sequence.missing],
        "reference": None if series.reference_index is None else frame_json(series.reference_facts.number),
        "frames": _frames(one),
        "findings": [finding_json(finding) for finding in one.findings],
        "checks": {
            "skipped": [{"check": check, "reason": reason} for check, reason in one.verdict.skipped],
            "failed": [{"check": check, "error": error} for check, error in one.verdict.failed],
        },
    }


def _frames(one: Inspection) -> list[Json]:
    series = one.series
    speeds = (series.steps, fastest_vertex(series), centre_speed(series))
    return [
        {
            **_frame(one, index),
            "speed": {"mean": finite(mean), "fastest": finite(fastest), "centre": finite(centre)},
            "bytes": series.facts[index].file.size,
            "modified": _moment(series.facts[index].file.mtime_ns),
        }
        for index, (mean, fastest, centre) in enumerate(zip(*(speed.tolist() for speed in speeds), strict=True))
    ]


def _moment(nanoseconds: int) -> str | None:
    """Format a time in UTC according to RFC 3339; None if the time is outside the range of `datetime`."""
    try:
        return datetime.fromtimestamp(nanoseconds / 1e9, UTC).isoformat(timespec="milliseconds")
    except (OverflowError, ValueError, OSError):
        return None


def _frame(one: Inspection, index: int) -> Json:
    facts = one.series.facts[index]
    materials = one.context.materials(index)
    known = facts.readable
    return {
        "frame": frame_json(facts.number),
        "file": one.context.file_name(index).text,
        "format": facts.format if known else None,
        "vertices": facts.vertices if known else None,
        "faces": facts.faces if known else None,
        "uvs": facts.uvs if known else None,
        "normals": facts.normals if known else None,
        "objects": len(facts.objects) if known else None,
        "materials": _texts(facts.materials),
        "libraries": [
            {"name": use.name.text, "found": use.target.status is Status.FOUND} for use in materials.libraries
        ],
        "maps": [
            {
                "name": use.map.name.text,
                "statement": use.map.statement.text,
                "found": use.target.status is Status.FOUND,
            }
            for use in materials.maps
        ],
        "box": None if facts.box is None else {"min": list(facts.box[:3]), "max": list(facts.box[3:])},
        "drift": _drift(one.series, index),
    }


def _drift(series: Series, index: int) -> Json | None:
    """Compare a frame's centre and size with those of the reference frame; None without a reference frame or a bounding
    box."""
    moved = series.drift[index].tolist()
    if series.reference_index is None or not all(map(math.isfinite, moved)):
        return None
    diagonal = float(series.diagonals[series.reference_index])
    return {
        "centre": moved,
        "centre_diagonals": finite(math.hypot(*moved) / diagonal) if diagonal > 0 else None,
        "size_ratio": finite(float(series.size_ratio[index])),
    }


def finding_json(finding: Finding) -> Json:
    return {
        "check": finding.check,
        "severity": finding.severity.word,
        "frames": [frame_json(number) for number in finding.frames],
        "message": finding.message,
        "where": [_where(place) for place in finding.where],
        "numbers": {key: finite(value) for key, value in finding.numbers.items()},
        "fixes": list(finding.fixes),
        "reason": finding.reason,
    }


def _where(place: Where) -> Json:
    return {"file": place.file.text, "line": place.line, "element": place.element}


def _not_a_sequence(one: NotASequence) -> Json:
    return {"folder": one.folder.text, "pattern": one.pattern.text, "count": one.count, "reason": one.reason}


def _texts(names: Iterable[Name]) -> list[str]:
    return [name.text for name in names]


def finite(value: float | str | None) -> float | str | None:
    """Return a value, or None if it is a number that JSON can't hold (NaN or infinite)."""
    return None if isinstance(value, float) and not math.isfinite(value) else value


def json_text(document: Mapping[str, object]) -> str:
    """Write a document as one line of ASCII, with a line ending. Bytes that are not UTF-8 become surrogate escapes.

    Raises:
        ValueError: A number is NaN or infinite.
    """
    return json.dumps(document, ensure_ascii=True, allow_nan=False) + "\n"
