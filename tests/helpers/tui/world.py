"""A made-up folder, inspected without a file being read: facts by formula, findings by hand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.runner import Verdict
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.discover import Discovery, FrameFile
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import build_series

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
    context = CheckContext(series, Settings(), MaterialResolver(Scope(ROOT)))
    return Inspection(context, Verdict(tuple(findings), (), ()))


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
        finding("centre-jump", Severity.WARNING, 9, fixes=("align-outlier",)),
        finding("frozen", Severity.NOTE, 20),
    ]
    return folder(inspected(manta, found), inspected(sequence(b"kelp", range(1, 13)), []))


def view_of(inspection: Inspection) -> SequenceView:
    return SequenceView(inspection.sequence, inspection.series.facts, inspection)
