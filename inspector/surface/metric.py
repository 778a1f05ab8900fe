"""Measure how the texture fits the surface.

Source: Sander, Snyder, Gortler, Hoppe 2001, "Texture Mapping Progressive Meshes", section 3. On a triangle, the mapping
from UV to the surface is affine, so its derivatives Ss and St are constant. The singular values of (Ss, St) are the
largest and the smallest length that a unit vector in UV has on the surface.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.formats.frame import Frame
from inspector.surface.triangles import Triangles

_TRIANGLES_AT_ONCE = 8192
"""Number of triangles to measure in one batch. Of the sizes from 2048 to 65536, this size was the fastest (measured).
"""


@dataclass(frozen=True, eq=False)
class Metric:
    """How the texture is stretched over each triangle, in scene units per unit of UV.

    A triangle is not `usable` if its area in UV is 0, if a corner has no UV, or if a number is not finite. Its `by_u`,
    `by_v` and `uv_area` are then set to 0, so that the triangle has no weight in a mean. If the computed area on the
    surface is not finite, `normal` and `area` are set to 0 too.

    Attributes:
        by_u: Derivative of the surface with respect to u, (3, t).
        by_v: Derivative of the surface with respect to v, (3, t).
        normal: Vector perpendicular to the surface, (3, t); its length is twice the triangle's area.
        area: Area on the surface, in square scene units, (t,).
        uv_area: Signed area in UV, (t,), negative if the UVs run clockwise, so that the texture appears mirrored.
        usable: Whether all values could be measured, (t,).
    """

    by_u: Floats
    by_v: Floats
    normal: Floats
    area: Floats
    uv_area: Floats
    usable: Flags

    def of(self, chosen: Indices | Flags) -> Metric:
        """Return the metric of the triangles chosen by indices, (k,), or by a flag for each triangle, (t,)."""
        return Metric(*(getattr(self, one.name)[..., chosen] for one in fields(Metric)))

    @cached_property
    def u_length(self) -> Floats:
        """Length of one unit of u on the surface, (t,)."""
        return length(self.by_u)

    @cached_property
    def v_length(self) -> Floats:
        """Length of one unit of v on the surface, (t,)."""
        return length(self.by_v)

    def singular_values(self, aspect: float = 1.0) -> tuple[Floats, Floats]:
        """Calculate the larger and the smaller singular value of each triangle, (t,) each (section 3 of the source).

        Args:
            aspect: Width over height of the texture. The singular values are lengths on the surface per height of the
                texture.
        """
        a = (self.u_length / aspect) ** 2
        c = self.v_length**2
        b = np.einsum("it,it->t", self.by_u, self.by_v) / aspect
        larger = np.sqrt((a + c + np.sqrt((a - c) ** 2 + 4.0 * b**2)) / 2.0)
        determinant = self.scale**2 / aspect
        return larger, np.divide(determinant, larger, out=np.zeros_like(larger), where=larger > 0.0)

    @cached_property
    def scale(self) -> Floats:
        """Geometric mean of the two singular values, (t,); 0 for a triangle that is not `usable`."""
        share = np.divide(self.area, np.abs(self.uv_area), out=np.zeros_like(self.area), where=self.usable)
        return np.sqrt(share)


def measure_frame(frame: Frame, triangles: Triangles) -> Metric:
    """Measure the metric of a frame's triangles, from the first two coordinates of its UVs."""
    points, step = np.ascontiguousarray(frame.positions.T), _TRIANGLES_AT_ONCE
    # a missing UV has the index ABSENT, -1, which selects the last UV: NaN
    uvs = np.full((2, len(frame.uvs) + 1), np.nan)
    uvs[:, :-1] = frame.uvs[:, :2].T
    parts = []
    for start in range(0, max(1, len(triangles)), step):
        vertex = triangles.vertices[start : start + step].T
        uv = frame.corners.vt[triangles.corners[start : start + step].T]
        parts.append(measure(points[:, vertex].swapaxes(0, 1), uvs[:, uv].swapaxes(0, 1)))
    values = ([getattr(part, one.name) for part in parts] for one in fields(Metric))
    return Metric(*(np.concatenate(pieces, axis=-1) for pieces in values))


@np.errstate(over="ignore", invalid="ignore")  # a number that overflows only makes its triangle unusable
def measure(points: Floats, uv: Floats) -> Metric:
    """Measure the metric of triangles.

    Args:
        points: Positions by corner, coordinate and triangle, (3, 3, t), in scene units.
        uv: UVs by corner, coordinate and triangle, (3, 2, t); NaN for a corner without a UV.
    """
    first, second = points[1] - points[0], points[2] - points[0]
    u1, v1 = uv[1] - uv[0]
    u2, v2 = uv[2] - uv[0]
    double = u1 * v2 - u2 * v1
    normal = cross(first, second)
    area = length(normal) / 2.0
    usable = (double != 0.0) & np.isfinite(double) & np.isfinite(area)
    inverse = np.divide(1.0, double, out=np.zeros_like(double), where=usable)
    usable &= np.isfinite(inverse)
    by_u = first * (v2 * inverse) - second * (v1 * inverse)
    by_v = second * (u1 * inverse) - first * (u2 * inverse)
    if not usable.all():
        by_u[:, ~usable] = by_v[:, ~usable] = normal[:, ~np.isfinite(area)] = 0.0
        area = np.where(np.isfinite(area), area, 0.0)
        double = np.where(usable, double, 0.0)
    return Metric(by_u, by_v, normal, area, double / 2.0, usable)


def length(vectors: Floats) -> Floats:
    """Calculate the lengths, (t,), of vectors, (3, t)."""
    lengths: Floats = np.sqrt(np.einsum("it,it->t", vectors, vectors))
    return lengths


def cross(a: Floats, b: Floats) -> Floats:
    """Calculate the cross products of two arrays of vectors, (3, ...).

    `numpy.cross` is much slower, because it works along the last axis.
    """
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])
