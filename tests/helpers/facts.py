"""Facts of a frame, made by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.facts import FrameFacts

GOOD = FrameFacts(
    Fraction(1),
    FrameFile(Fraction(1), Path("/x/manta.0001.obj"), 1, 1),
    readable=True,
    problems=(),
    vertices=4,
    faces=2,
    box=(0.0, 0.0, 0.0, 2.0, 3.0, 6.0),
    topology=b"t",
    uv_indices=b"i",
    uv_values=b"v",
)


def other(**changes: object) -> FrameFacts:
    return replace(GOOD, **changes)  # type: ignore[arg-type]


UNREADABLE = other(readable=False, vertices=0, faces=0, box=None, topology=b"")
