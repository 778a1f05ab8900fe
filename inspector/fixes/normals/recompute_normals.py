"""Compute normals from the faces of each frame."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Floats, Indices, SmallIndices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.corner_groups import all_soft, by_angle, by_smoothing
from inspector.fixes.base.faces import ILLEGAL_FACES, has_legal_faces, refuse_mixed_faces
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.parameters import number_of, word_of
from inspector.formats.frame import Corners, Frame
from inspector.formats.wavefront.writer import decimals_of
from inspector.names import counted
from inspector.surface.normals import area_vectors, face_normals, gathered, grouped_normals, unit
from inspector.surface.triangles import Triangles, triangulate

ANGLE, AREA = "angle", "area"
_DECIMALS = 6  # a millionth of a unit vector makes no visible difference to the shading (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class CornerNormals:
    """How normals are computed in every frame.

    Attributes:
        triangles: Triangles of the reference frame's faces.
        group: Index of the normal at each corner, (c,).
        weight: How the faces at a vertex are weighted: ANGLE or AREA.
    """

    triangles: Triangles
    group: SmallIndices
    weight: str


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[CornerNormals]:
    """Decide from the reference frame which corners share a normal in all frames.

    Raises:
        Refusal: No frame can be read, faces differ between frames or aren't valid, or a parameter is wrong.
    """
    weight = word_of(parameters, "weight", (ANGLE, AREA)) or ANGLE
    refuse_mixed_faces(context)
    reference = context.reference_frame
    if not has_legal_faces(reference):
        raise Refusal(ILLEGAL_FACES)
    triangles = triangulate(reference.corners, reference.positions)
    group = _groups(reference, triangles, parameters)
    work = CornerNormals(triangles, group.astype(np.int32), weight)
    count = int(group.max()) + 1
    return Step(
        FIX.id,
        parameters,
        all_numbers(context),
        f"compute {counted(count, 'normal')} for each frame, weighted by {weight}",
        (Change("normals of the reference frame", f"{len(reference.normals):,}", f"{count:,}"),),
        work=work,
    )


def _groups(reference: Frame, triangles: Triangles, parameters: Parameters) -> Indices:
    """Return the index of the normal at each corner, (c,). The indices are the same in all frames, so that the shading
    doesn't flicker.

    Raises:
        Refusal: The parameter `hard` is wrong.
    """
    hard = parameters.get("hard")
    if hard is None:
        return all_soft(reference)
    if hard == "groups":
        return by_smoothing(reference)
    degrees = number_of(parameters, "hard")
    if degrees is None or not 0.0 <= degrees <= 180.0:
        raise Refusal("`hard` must be an angle from 0 to 180 degrees, or `groups`")
    return by_angle(reference, face_normals(reference.positions, triangles, reference.faces), degrees)


def edit_frame(frame: Frame, step: Step[CornerNormals], _: Fraction) -> Frame:
    work, corners = step.work, frame.corners
    return frame.replace(
        normals=_normals(frame, work),
        corners=Corners(corners.offsets, corners.v, corners.vt, work.group),
        decimals={b"vn": max(decimals_of(frame, b"vn"), _DECIMALS)},
    )


def _normals(frame: Frame, work: CornerNormals) -> Floats:
    """Compute the unit normal of each group of corners, (g, 3); +z if the faces of a group have zero area.

    Weighting by area follows Max 1999, "Weights for Computing Vertex Normals from Facet Normals": a normal has the
    direction of the sum of the faces' area vectors.
    """
    triangles, count = work.triangles, int(work.group.max()) + 1
    if work.weight == AREA:
        of_face = gathered(triangles.face, area_vectors(frame.positions, triangles), frame.faces)
        normals = unit(gathered(work.group, of_face[frame.corners.face_of_corner()], count))
    else:
        normals = grouped_normals(frame.positions, triangles, work.group[triangles.corners], count)
    normals[~normals.any(axis=1)] = (0.0, 0.0, 1.0)
    return normals


FIX = Fix(
    id="recompute-normals",
    title="Compute the normals",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ESTIMATES}),
    does="Computes the normals of every frame from its faces. Hard edges are determined once, on the reference frame.",
    cost="The exported normals are lost. They may have been edited by hand.",
    touches=frozenset({b"vn", b"f", b"fo"}),
    claims=frozenset({Claim.NORMALS, Claim.FACES}),
    plan=plan,
    parameters={
        "weight": "weight of a face at a vertex: angle (of the face at this vertex) or area; default: angle",
        "hard": (
            "angle in degrees above which edges are hard, or the word `groups` (edges between smoothing groups are "
            "hard); default: no hard edges"
        ),
    },
    whole=True,
    edit_frame=edit_frame,
)
