"""Take UVs from the closest points on the surface of a donor, a mesh file with different faces."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.closest import TriangleTree, barycentric
from inspector.fixes.base.faces import has_legal_faces, used_vertices
from inspector.fixes.base.fix import Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.uvs import (
    UV_DECIMALS,
    UvSet,
    apply_uv_set,
    donor_of,
    frames_without_uvs,
    refuse_other_faces,
    uv_changes,
    uv_summary,
)
from inspector.formats.frame import Frame
from inspector.names import amount, safe
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.normals import area_vectors, gathered
from inspector.surface.triangles import triangulate

_DONOR_DISTANCE = 0.05
"""Maximum distance of the reference frame's vertices from the donor's surface, as a fraction of the reference frame's
diagonal. A larger distance means that the donor has a different pose, position or size."""

_INWARD = 0.02
"""Distance from a corner to its search point, as a fraction of the distance from the corner to the middle of the face.
The corner gets its UV from the donor's triangle that is closest to this point. Because the point is inside the face, a
corner at a seam gets its UV from the face's side of the seam."""

_ROUNDING = 1e-12
"""Maximum distance, as a fraction of the reference frame's diagonal, that counts as a rounding error of float64 and is
shown as 0."""


def plan(context: CheckContext, parameters: Parameters, frames: tuple[Fraction, ...] | None) -> Step[UvSet]:
    """Read the donor, and find the UVs of the reference frame's corners on the donor's surface.

    Raises:
        Refusal: No donor is named, or the donor doesn't exist; the donor has no UVs or no surface, has a number that is
            not finite, or is too far from the reference frame; the faces or positions of the reference frame aren't
            valid, or faces differ between frames; every frame has UVs; or all chosen frames are empty, or a chosen
            frame doesn't exist or can't be read.
        MeshqcError: The donor can't be read.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    path, donor = donor_of(context, parameters)
    number, reference = frame_text(series.reference_facts.number), context.reference_frame
    indices = frames_without_uvs(context, frames)
    refuse_other_faces(context, reference, f"reference frame {number}", indices)
    if not has_legal_faces(reference) or not np.isfinite(reference.positions).all():
        raise Refusal(
            "the reference frame has a coordinate that is not a finite number, a face with fewer than three corners, "
            "or a face with a missing vertex"
        )
    surface = _Surface(donor, safe(path.name))
    distance = float(surface.tree.closest(reference.positions[used_vertices(reference)])[1].max())
    share = distance / float(series.diagonals[series.reference_index])
    distance = distance if share > _ROUNDING else 0.0
    if not share <= _DONOR_DISTANCE:
        raise Refusal(
            f"vertices of frame {number} are up to {amount(distance, 'unit')} ({share:.0%} of the diagonal) away from "
            f"the surface of {safe(path.name)}; the two meshes differ in pose, position or size"
        )
    uvs, torn = _carried_over(surface, reference)
    given, numbers = _shared(uvs), context.numbers(indices)
    return Step(
        FIX.id,
        {"from": str(path.absolute())},
        numbers,
        f"{uv_summary(numbers, safe(path.name))} at the points closest to frame {number}, at most "
        f"{amount(distance, 'unit')} away ({share:.2%} of the diagonal); faces across a seam of the donor: "
        f"{int(torn.sum()):,}",
        uv_changes(context, indices[0], given),
        work=given,
    )


@dataclass(frozen=True, eq=False)
class _NearestTriangles:
    """The nearest triangle of the donor for each of n points.

    Attributes:
        surface: The donor's surface.
        triangle: Index of the nearest triangle, (n,).
    """

    surface: _Surface
    triangle: Indices

    def uv_at(self, points: Floats) -> Floats:
        """Map points to UVs, (n, 2), with the affine map of each point's triangle, even if the point is outside it.

        Args:
            points: One point per triangle, (n, 3), in scene units.
        """
        weights = barycentric(self.surface.triangles[self.triangle], points)
        uvs: Floats = np.einsum("nc,ncd->nd", weights, self.surface.uvs[self.triangle])
        return uvs


class _Surface:
    """The donor's triangles, except triangles with zero area.

    Attributes:
        triangles: Positions of their corners, (t, 3, 3), in scene units.
        uvs: UVs of their corners, (t, 3, 2).
        tree: Search tree of these triangles.
    """

    def __init__(self, donor: Frame, name: str) -> None:
        if not np.isfinite(donor.positions).all() or not np.isfinite(donor.uvs).all():
            raise Refusal(f"{name} has a coordinate or a UV that is not a finite number")
        triangles = triangulate(donor.corners, donor.positions)
        some = area_vectors(donor.positions, triangles).any(axis=1)
        if not some.any():
            raise Refusal(f"{name} has only zero-area faces")
        self.triangles: Floats = donor.positions[triangles.vertices[some]]
        self.uvs: Floats = donor.uvs[donor.corners.vt[triangles.corners[some]], :2]
        self.tree = TriangleTree(self.triangles)

    def found_from(self, points: Floats) -> _NearestTriangles:
        return _NearestTriangles(self, self.tree.closest(points)[0])


def _carried_over(surface: _Surface, reference: Frame) -> tuple[Floats, Flags]:
    """Find the UVs of the reference frame's corners on the donor's surface.

    A corner usually gets its UV from the triangle closest to a point near the corner (_INWARD). This UV is compared
    with the UV from the triangle closest to the middle of the corner's face. If, at any corner of a face, the distance
    between these two UVs is greater than the size of the face in the texture, the face crosses a seam. All corners of
    such a face get their UVs from the triangle closest to its middle.

    Returns:
        UVs of the corners, (c, 2), and whether each face crosses a seam, (f,).
    """
    corners = reference.corners
    face, places = corners.face_of_corner(), reference.positions[corners.v]
    middles = gathered(face, places, reference.faces) / corners.sizes[:, None]
    inward = places + _INWARD * (middles[face] - places)
    own = surface.found_from(inward).uv_at(places)
    whole = _NearestTriangles(surface, surface.found_from(middles).triangle[face]).uv_at(places)
    starts = corners.offsets[:-1]
    size = np.linalg.norm(np.maximum.reduceat(whole, starts) - np.minimum.reduceat(whole, starts), axis=1)
    torn: Flags = np.maximum.reduceat(np.linalg.norm(own - whole, axis=1), starts) > size
    return np.where(torn[face][:, None], whole, own), torn


def _shared(uvs: Floats) -> UvSet:
    """Make a UvSet from one UV per corner, (c, 2). UVs that are equal after rounding become one UV."""
    steps = np.rint(uvs * 10.0**UV_DECIMALS)
    distinct, vt = np.unique(steps, axis=0, return_inverse=True)
    return UvSet(distinct / 10.0**UV_DECIMALS, vt.reshape(-1).astype(np.int32), UV_DECIMALS)


FIX = Fix(
    id="uv-nearest",
    title="UVs from the closest points of a donor",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ESTIMATES}),
    does="Copies UVs from a mesh file with different faces. Each corner gets the UV of the closest point on the "
    "surface of that mesh, as measured on the reference frame.",
    cost="The UVs are interpolated between those of the donor. Where surfaces are close together, the closest point "
    "may be on the wrong surface. Where a face crosses a seam of the donor, its UVs extend beyond the seam.",
    touches=frozenset({b"vt", b"f", b"fo"}),
    claims=frozenset({Claim.UVS}),
    plan=plan,
    parameters={
        "from": (
            "mesh file that has UVs, and has the same shape and pose as the reference frame; default: the file given "
            "with --uvs-from"
        )
    },
    path="from",
    edit_frame=apply_uv_set,
)
