"""A made-up folder, inspected without a file being read: facts by formula, findings by hand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.inspect import FolderInspection, Inspection
from inspector.checks.base.runner import Verdict
from inspector.names import Name
from inspector.report.view import SequenceView
from inspector.sequence.discover import Discovery, FrameFile
from inspector.sequence.discover import Sequence as FrameSequence
from inspector.sequence.facts import FrameFacts
from inspector.sequence.materials import MaterialBook
from inspector.sequence.scope import Scope
from inspector.sequence.series import build_series
from inspector.sequence.settings import Settings

ROOT = Path("/shots/harbour")


def frames(*numbers: float) -> tuple[Fraction, ...]:
    return tuple(Fraction(number) for number in numbers)


def sequence(stem: bytes, numbers: Iterable[int], root: Path = ROOT) -> FrameSequence:
    files = tuple(
        FrameFile(Fraction(number), root / Name(b"%s.%04d.obj" % (stem, number)).text, 1000, 0) for number in numbers
    )
    return FrameSequence(root, Name(b"."), Name(stem + b"."), Name(b".obj"), 4, files)


def facts_of(one: FrameSequence) -> tuple[FrameFacts, ...]:
    """A box two units long that swims along x, half a unit up and down."""
    facts = []
    for file in one.files:
        along, up = 0.05 * float(file.number), 0.5 * math.sin(float(file.number) / 3)
        facts.append(
            FrameFacts(
                file.number,
                file,
                readable=True,
                problems=(),
                vertices=602,
                uvs=650,
                normals=602,
                faces=600,
                box=(along, up, 0.0, along + 2.0, up + 1.0, 1.0),
                step=0.05,
                materials=(Name(b"skin"),),
            )
        )
    return tuple(facts)


def inspected(
    one: FrameSequence, findings: Sequence[Finding], facts: tuple[FrameFacts, ...] | None = None
) -> Inspection:
    series = build_series(one, facts or facts_of(one))
    evidence = Evidence(series, Settings(), MaterialBook(Scope(ROOT)))
    return Inspection(evidence, Verdict(tuple(findings), (), ()))


def folder(*inspections: Inspection) -> FolderInspection:
    discovery = Discovery(ROOT, tuple(one.sequence for one in inspections), (), ())
    return FolderInspection(discovery, Settings(), inspections, ())


def finding(check: str, severity: Severity, *numbers: float, fixes: tuple[str, ...] = ()) -> Finding:
    where = (Where(Name(b"manta.%04d.obj" % int(numbers[0])), 1862, "face 12"),) if numbers else ()
    return Finding(check, severity, f"a finding of {check}", frames(*numbers), where, fixes=fixes)


def harbour() -> FolderInspection:
    """24 frames of which 14 is missing, with trouble on a few; and a clean sequence beside it."""
    manta = sequence(b"manta", [number for number in range(1, 25) if number != 14])
    found = [
        finding("uv-mismatch", Severity.ERROR, 8, 9, fixes=("uv-shift-back", "uv-restore")),
        finding("missing-frames", Severity.ERROR, 14, fixes=("fill-frames",)),
        finding("centre-jump", Severity.WARNING, 9, fixes=("settle-outlier",)),
        finding("frozen", Severity.INFO, 20),
    ]
    return folder(inspected(manta, found), inspected(sequence(b"kelp", range(1, 13)), []))


def view_of(inspection: Inspection) -> SequenceView:
    return SequenceView(inspection.sequence, inspection.series.facts, inspection)
