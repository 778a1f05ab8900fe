"""Keep only the chosen objects."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Flags, Indices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.faces import (
    FACE_COMMENTS,
    OTHER_STATES,
    refuse_mixed_faces,
    refuse_other_users,
    states_of,
    used_vertices,
    with_faces_kept,
    with_vertices_kept,
)
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.parameters import typed
from inspector.formats.frame import ABSENT, Frame
from inspector.names import Name, safe


@dataclass(frozen=True, slots=True, eq=False)
class KeptElements:
    """The faces and vertices to keep, the same in all frames.

    Attributes:
        faces: Indices of the faces, ascending, (k,).
        vertices: Whether each vertex is kept, (n,).
    """

    faces: Indices
    vertices: Flags


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[KeptElements]:
    """Find the faces of the named objects or groups, and the vertices to keep.

    A vertex is dropped if all its faces are dropped. Vertices that no face uses are kept.

    Raises:
        Refusal: No names are given, or the reference frame has no such object or group; all faces would be kept; no
            frame can be read; a corner has no vertex, or points, lines or free-form elements use vertices; or frames
            differ in their faces, or in the objects, groups, smoothing groups or materials of the faces.
    """
    if "names" not in parameters:
        raise Refusal(f"no objects or groups were named; name those to keep with {typed(FIX.id, 'names=NAME,NAME')}")
    refuse_mixed_faces(context)
    refuse_other_users(context)
    reference = context.reference_frame
    wanted = _wanted(reference, str(parameters["names"]))
    runs = [run for run in reference.runs if {run.object, run.group} & wanted]
    faces = np.concatenate([np.arange(run.start, run.stop) for run in runs])
    if len(faces) == reference.faces:
        raise Refusal("every face belongs to the named objects or groups, so nothing would be removed")
    if (reference.corners.v == ABSENT).any():
        raise Refusal("the reference frame has a face with a missing vertex")
    _refuse_other_states(context)
    names = ", ".join(sorted(name.display for name in wanted if name is not None))
    vertices = used_vertices(reference, faces) | ~used_vertices(reference)
    return Step(
        FIX.id,
        parameters,
        all_numbers(context),
        f"keep {names}: {len(faces):,} of {reference.faces:,} faces",
        (Change("vertices of each frame", f"{len(vertices):,}", f"{int(vertices.sum()):,}"),),
        work=KeptElements(faces, vertices),
    )


def _wanted(reference: Frame, names: str) -> set[Name | None]:
    known = {name.text: name for run in reference.runs for name in (run.object, run.group) if name is not None}
    asked = [name.strip() for name in names.split(",")]
    strange = [name for name in asked if name not in known]
    if strange:
        there = ", ".join(sorted(name.display for name in known.values())) or "none"
        raise Refusal(f"the reference frame has no object or group {safe(strange[0])}; it has {there}")
    return {known[name] for name in asked}


def _refuse_other_states(context: CheckContext) -> None:
    """Refuse a sequence if the objects, groups, smoothing groups or materials of the faces differ between frames.

    Every frame is read, because the facts don't record the group of each face.

    Raises:
        Refusal: A frame differs from the reference frame.
    """
    wanted = states_of(context.reference_frame)
    for index, facts in enumerate(context.series.facts):
        if facts.filled and states_of(context.frame(index)) != wanted:
            raise Refusal(f"{context.file_name(index)}: {OTHER_STATES}")


def edit_frame(frame: Frame, step: Step[KeptElements], _: Fraction) -> Frame:
    """Reduce a frame to the faces and vertices that the step keeps.

    The `o` and `g` lines of dropped faces stay, because blocks that they separate could otherwise become one block.
    """
    return with_vertices_kept(with_faces_kept(frame, step.work.faces), step.work.vertices)


FIX = Fix(
    id="keep-objects",
    title="Keep chosen objects",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Keeps only the faces of the named objects or groups, on every frame. Removes all other faces, and the "
    "vertices that only these other faces use.",
    cost="All other objects are lost. Faces and vertices are renumbered, in the same way on every frame."
    + FACE_COMMENTS,
    touches=frozenset({b"v", b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    parameters={"names": "objects or groups to keep, separated by commas"},
    required=frozenset({"names"}),
    whole=True,
    edit_frame=edit_frame,
)
