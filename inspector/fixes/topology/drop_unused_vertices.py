"""Drop vertices that no face uses. The same vertices are dropped from all frames."""

from __future__ import annotations

from fractions import Fraction

from inspector.arrays import Flags
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.faces import refuse_mixed_faces, refuse_other_users, used_vertices, with_vertices_kept
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.formats.frame import ABSENT, Frame
from inspector.names import counted


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[Flags]:
    """Find the vertices that no face uses.

    Returns:
        A step whose `work` states, for each vertex, whether it is kept, (n,).

    Raises:
        Refusal: Every vertex is used by a face; there are no faces; faces differ between frames; a corner has no
            vertex; or points, lines or free-form elements use vertices.
    """
    refuse_mixed_faces(context)
    refuse_other_users(context)
    reference = context.reference_frame
    used = used_vertices(reference)
    loose = int((~used).sum())
    if not loose:
        raise Refusal("every vertex is used by a face")
    if loose == len(used) or (reference.corners.v == ABSENT).any():
        raise Refusal("the reference frame has no faces, or has a face with a missing vertex")
    return Step(
        FIX.id,
        {},
        all_numbers(context),
        f"drop {counted(loose, 'vertex', 'vertices')} that no face uses",
        (Change("vertices of each frame", f"{len(used):,}", f"{len(used) - loose:,}"),),
        work=used,
    )


def edit_frame(frame: Frame, step: Step[Flags], _: Fraction) -> Frame:
    return with_vertices_kept(frame, step.work)


FIX = Fix(
    id="drop-unused-vertices",
    title="Drop unused vertices",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Removes the vertices that no face uses, and renumbers later vertices. Works only if all frames have the "
    "same faces.",
    cost="The vertices are lost, including any that serve as markers. Later vertices are renumbered, in the same way "
    "on every frame.",
    touches=frozenset({b"v", b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    whole=True,
    edit_frame=edit_frame,
)
