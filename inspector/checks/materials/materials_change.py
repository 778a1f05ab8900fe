"""Materials that change between frames: faces get a different material, or a material is defined differently."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.arrays import Indices
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import base_facts, files, part_of, usable_where
from inspector.checks.base.libraries import Subject, name_changes, named, spot_finding, used_libraries
from inspector.checks.base.material_content import changes
from inspector.checks.base.numbered_names import name_stem
from inspector.formats.element_lines import face_line
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.islands import face_materials


def run(context: CheckContext) -> Iterator[Finding]:
    yield from _other_faces(context)
    used_libraries(context)
    met = list(changes(context))
    if not met:
        return
    statements = sorted({statement for change in met for statement in change.statements})
    subject = Subject("material", (change.material for change in met))
    yield spot_finding(
        context,
        CHECK.id,
        Severity.WARNING,
        f"{subject} {subject:differs/differ} between frames: {named(map(Name, statements))}",
        [change.spot for change in met],
        {"materials": len({change.material for change in met}), "statements": len(statements)},
    )


def _other_faces(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    other = context.unexplained(usable_where(context, lambda facts: _differ(facts, base)))
    if not other:
        return
    frame = context.frame(other[0])
    faces = _faces_with_another(frame, context.reference_frame)
    difference, gone, new = name_changes(base.materials, frame.materials)
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{part_of(len(faces), frame.faces, 'face')} {'does' if len(faces) == 1 else 'do'} not have the same material "
        "as in the reference frame" + (f" ({difference})" if difference else ""),
        context.numbers(other),
        (
            Where(context.file_name(other[0]), face_line(frame, int(faces[0])), f"face {faces[0] + 1}"),
            *files(context, other[1 : limits.PLACES_KEPT]),
        ),
        {"kind": "faces", "faces": len(faces), "new": new, "gone": gone},
    )


def _differ(facts: FrameFacts, base: FrameFacts) -> bool:
    """Whether the names of a frame's materials, or the materials of its faces, differ from the reference frame's.

    Frames with a different number of faces are not compared. Differences that `material-numbering` and
    `faces-without-material` report don't count.
    """
    if facts.problem("face-without-material") is not None:
        return False
    if not facts.materials or not base.materials or facts.faces != base.faces:
        return False
    if {name_stem(name) for name in facts.materials} != {name_stem(name) for name in base.materials}:
        return True
    same_names = set(facts.materials) == set(base.materials)
    return same_names and facts.topology == base.topology and facts.face_materials != base.face_materials


def _faces_with_another(frame: Frame, reference: Frame) -> Indices:
    """Return the faces whose material differs from the reference frame's, as ascending zero-based indices, (k,)."""
    names: dict[Name | None, int] = {}
    ours, theirs = (
        np.array([names.setdefault(name, len(names)) for name in known], np.int64)[material]
        for known, material in map(face_materials, (frame, reference))
    )
    return np.flatnonzero(ours != theirs)


def _affected(frame: Frame, reference: Frame | None) -> Indices | None:
    """Return the faces whose material differs from the reference frame's, as ascending zero-based indices, (k,).

    The result is None if there is no reference frame, or if the numbers of faces differ.
    """
    if reference is None or reference.faces != frame.faces:
        return None
    return _faces_with_another(frame, reference)


CHECK = Check(
    id="materials-change",
    title="Materials change",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="The material of some faces differs from their material in the reference frame, or the libraries of "
        "different frames define the same material differently.",
        after_import="Colours and textures change on these frames. Some importers read one library for all frames, "
        "and show the default shader for materials that this library doesn't define.",
        what_to_do="Give each face one material for the whole animation, and export again. If libraries differ "
        "although the material should stay the same, point all frames to one library with the fix "
        "`share-library:library=FILE`. If the material should change, animate the material after the import.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    affected_faces=_affected,
    # An undefined material explains why faces have a different material than in the reference frame.
    explained_by=("material-undefined",),
)
