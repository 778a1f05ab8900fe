"""Same counts, other faces: what no table of counts shows."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.counts import changes_throughout
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import base_facts, count_of, usable_where
from inspector.formats.frame import Frame
from inspector.sequence.facts import FrameFacts, face_line


def run(evidence: Evidence) -> Iterator[Finding]:
    base = base_facts(evidence)
    if changes_throughout(evidence, lambda facts: facts.faces):
        raise NotApplicable("the number of faces changes throughout, as a simulation's does")

    def differs(facts: FrameFacts) -> bool:
        counts = facts.vertices == base.vertices and facts.faces == base.faces
        broken = facts.problem("index-range") or facts.problem("index-zero")
        return counts and facts.topology != base.topology and not broken

    other = usable_where(evidence, differs)
    if not other:
        return
    frames_by_topology: dict[bytes, list[int]] = {}
    for index in other:
        frames_by_topology.setdefault(evidence.series.facts[index].topology, []).append(index)
    reference = evidence.reference
    where: list[Where] = []
    most = 0
    for indices in frames_by_topology.values():  # one look at each distinct topology, however many frames share it
        frame = evidence.frame(indices[0])
        changed = changed_faces(reference, frame)
        most = max(most, len(changed))
        face = int(changed[0])
        where.append(Where(evidence.file_name(indices[0]), face_line(frame, face), f"face {face + 1}"))
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{count_of(most, 'face')} of {base.faces:,} connect other vertices than in the reference, at equal counts",
        evidence.numbers(other),
        tuple(where[:5]),
        {"faces": most, "variants": len(frames_by_topology)},
        CHECK.fixes,
    )


def changed_faces(reference: Frame, frame: Frame) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Indices of the faces whose size or vertices differ, row by row; both frames have equally many faces."""
    ours, theirs = frame.corners, reference.corners
    changed = ours.sizes != theirs.sizes
    if not changed.any() and len(ours.v) == len(theirs.v):
        changed[ours.face_of_corner()[ours.v != theirs.v]] = True
        return np.flatnonzero(changed)
    alike = np.flatnonzero(~changed)
    for face in alike:
        a, b = ours.offsets[face], theirs.offsets[face]
        size = ours.offsets[face + 1] - a
        changed[face] = not np.array_equal(ours.v[a : a + size], theirs.v[b : b + size])
    return np.flatnonzero(changed)


CHECK = Check(
    id="other-faces",
    title="Same counts, other faces",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="Vertex and face counts agree with the reference, but some faces connect other vertices.",
        after_import="Creases and texture flicker on these frames; what was selected by face is elsewhere.",
        what_to_do="Triangulate once before the animation, not on export, and export again. "
        "Or fill the frame from its neighbours.",
    ),
    run=run,
    fixes=("fill-frames",),
)
