"""Write the receipt (a record of the changes to each file, for programs) and the digests (for `sha256sum -c`)."""

from __future__ import annotations

import json
import os
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from inspector import __version__
from inspector.delivery.apply import Sources
from inspector.delivery.choices import sequence_key, serious
from inspector.delivery.journal import WrittenFile
from inspector.delivery.losses import SequenceLosses
from inspector.delivery.plan import Plan
from inspector.delivery.plan_file import statements_to_json
from inspector.delivery.write import source_name
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection
from inspector.sequence.discovery.numbering import number_after
from inspector.sequence.discovery.settings import Settings, frame_json

FORMAT = 2
SUMS_NAME = "SHA256SUMS"
_HEAD: Mapping[str, object] = {"format": FORMAT, "tool": {"name": "meshqc", "version": __version__}}
_ESCAPED = {b"\\": b"\\", b"n": b"\n", b"r": b"\r"}
_ESCAPE = re.compile(rb"\\([\\nr])")


_Frames = Mapping[tuple[str, str], Iterable[Fraction]]
"""The frame numbers of each sequence, by folder and by stem (the part of the file names before the frame number)."""


def receipt_of(plan: Plan, files: Sequence[WrittenFile], sources: Sources) -> Mapping[str, object]:
    """Make the receipt of a delivery, as values for JSON.

    The receipt contains no date, so that the same work gives the same bytes. `frames` includes the numbers of missing
    frames, which the files don't show. The caller adds `left`, `left_out` and `handoff` after the checks.

    Args:
        plan: The plan that was carried out.
        files: The files that were written.
        sources: The reader of the source files, with the digests of all files that were read.
    """
    return {
        **_HEAD,
        "source": str(plan.inspection.root),
        "stated": statements_to_json(settings_after(plan)),
        "fixes": [
            {
                "sequence": one.key,
                "fix": step.fix,
                "title": fix_by_id(step.fix).title,
                "kind": fix_by_id(step.fix).kind.value,
                "parameters": step.parameters,
                "frames": _numbers(step.frames),
                "summary": step.summary,
                "answers": step.answers,
            }
            for one in plan.sequences
            for step in one.steps
        ],
        "invented": [
            {"sequence": one.key, "frame": frame_json(output.number), "file": output.file.text, "made": output.made}
            for one in plan.sequences
            for output in one.outputs
            if output.made is not None
        ],
        "files": [_file(file, file.sources) for file in files],
        "frames": _frames(delivered_frames(plan)),
        "sources": [
            {"path": source_name(plan, path), "sha256": digest} for path, digest in sorted(sources.digests.items())
        ],
    }


def unpacked_receipt(
    settings: Settings, source: tuple[str, str], files: Sequence[WrittenFile], frames: _Frames
) -> Mapping[str, object]:
    """Make the receipt of frames that were unpacked from a scene file, as values for JSON.

    Args:
        settings: The user's statements about the frames.
        source: Name and SHA-256 of the scene file.
        files: The files that were written.
        frames: The frame numbers, by folder and stem of the file names. Damaged and missing frames are included.
    """
    return {
        **_HEAD,
        "source": source[0],
        "stated": statements_to_json(settings),
        "fixes": [],
        "invented": [],
        "files": [_file(file, (source,)) for file in files],
        "frames": _frames(frames),
        "sources": [{"path": source[0], "sha256": source[1]}],
    }


def _file(file: WrittenFile, sources: Sequence[tuple[str, str]]) -> Mapping[str, object]:
    return {
        "path": file.path,
        "before": [{"path": path, "sha256": digest} for path, digest in sources],
        "after": file.sha256,
        "fixes": file.fixes,
        "invented": file.invented,
    }


def delivered_frames(plan: Plan) -> dict[tuple[str, str], frozenset[Fraction]]:
    """Find the frame numbers of each delivered sequence, by folder and stem of the file names.

    The numbers of missing frames that no fix makes are also included, unless a fix renumbers the frames without gaps.
    """
    found: defaultdict[tuple[str, str], set[Fraction]] = defaultdict(set)
    for one in plan.sequences:
        sequence = one.inspection.sequence
        numbers = {output.number: number_after(sequence.stem.raw, output.file.raw) for output in one.outputs}
        shifts = {new - old for old, new in numbers.items()}
        missing = (number for number in sequence.missing if number not in numbers)
        kept = {number + shift for number in missing for shift in shifts} if len(shifts) == 1 else set()
        found[sequence.relative.text, sequence.stem.text] |= {*numbers.values(), *kept}
    return {place: frozenset(numbers) for place, numbers in found.items()}


def _frames(frames: _Frames) -> list[Mapping[str, object]]:
    return [
        {"folder": folder, "stem": stem, "numbers": _numbers(sorted(numbers))}
        for (folder, stem), numbers in frames.items()
    ]


def settings_after(plan: Plan) -> Settings:
    """Return the user's statements as they apply to the delivery.

    If a fix changes the frame rate or the frame numbers, neither a frame range nor a reference frame is stated. If
    sequences get different frame rates, no frame rate is stated.
    """
    settings = plan.inspection.settings
    retimed = {
        one.key: str(step.parameters["to"]) for one in plan.sequences for step in one.steps if step.fix == "retime"
    }
    if retimed:
        rates = {retimed.get(one.key) for one in plan.sequences}
        settings = replace(settings, rate=Fraction(str(rates.pop())) if len(rates) == 1 else None)
    if retimed or any("start" in step.parameters for step in plan.steps if step.fix == "renumber"):
        return replace(settings, expected=None, reference=None)
    return settings


def left_of(after: FolderInspection) -> list[dict[str, object]]:
    """Convert the errors and warnings of the delivery to values for JSON."""
    return [
        {
            "sequence": sequence_key(one),
            "check": finding.check,
            "severity": finding.severity.word,
            "frames": _numbers(finding.frames),
            "message": finding.message,
        }
        for one in after.inspections
        for finding in serious(one)
    ]


def left_out_of(lost: Iterable[SequenceLosses]) -> list[dict[str, object]]:
    """Convert the losses (source content that is missing from the delivery) to values for JSON."""
    return [
        {"sequence": one.sequence.text, "what": each.what, "seen": each.seen} for one in lost for each in one.losses
    ]


def receipt_bytes(receipt: Mapping[str, object]) -> bytes:
    """Encode the receipt as ASCII JSON. Undecodable bytes of names become escaped surrogates."""
    return (json.dumps(receipt, indent=1) + "\n").encode("ascii")


def sums_bytes(digests: Iterable[tuple[str, str]]) -> bytes:
    """Write a list of digests, with the line `DIGEST  PATH` for each file.

    Escape backslashes and line breaks in names as `sha256sum` does (GNU coreutils manual, "md5sum invocation").
    """
    lines = []
    for path, digest in digests:
        name = os.fsencode(path)
        escaped = name.replace(b"\\", b"\\\\").replace(b"\n", b"\\n").replace(b"\r", b"\\r")
        mark = b"\\" if escaped != name else b""
        lines.append(mark + digest.encode("ascii") + b"  " + escaped + b"\n")
    return b"".join(lines)


def sums_of(data: bytes) -> dict[str, str]:
    """Read a list of digests that `sums_bytes` wrote.

    Returns:
        Digest of each file, by path.

    Raises:
        ValueError: A line does not consist of a digest and a path, or a path occurs twice.
    """
    digests = {}
    for line in data.removesuffix(b"\n").split(b"\n") if data else ():
        digest, gap, name = line.removeprefix(b"\\").partition(b"  ")
        if not gap or len(digest) != 64:
            raise ValueError("a line does not consist of a digest and a file name")
        if line.startswith(b"\\"):
            name = _ESCAPE.sub(lambda escape: _ESCAPED[escape[1]], name)
        path = os.fsdecode(name)
        if path in digests:
            raise ValueError("a file is listed twice")
        digests[path] = digest.decode("ascii")
    return digests


def _numbers(frames: Iterable[Fraction]) -> list[int | float]:
    return [frame_json(number) for number in frames]
