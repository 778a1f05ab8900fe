"""Determine the texture that a surface needs over all frames, and how lettering reads on the surface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats, Indices
from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.sequence.run.replay import Progress, alike, quiet, replay
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series
from inspector.surface.islands import Islands, find_islands
from inspector.surface.metric import Metric, measure_frame
from inspector.surface.text_direction import Directions, Reading, Upright, directions, summarise
from inspector.surface.triangles import Triangles, Triangulator
from inspector.surface.uv_use import UvUse, uv_use

_ISLAND_SHARE = 0.01
"""Minimum area of a UV island that is reported separately, as a share of its material's area in the texture. Smaller
islands don't carry lettering.
"""

_ISLANDS_KEPT = 16
"""Maximum number of UV islands per material that are reported separately, the largest first."""

_LOOKS_AWAY = 0.05
"""A surface counts as facing a single direction if the sum of its normals, weighted by area, is longer than this
fraction of the surface's area. For a closed surface, the normals cancel out except for rounding errors.
"""

SHARES = (0.05, 0.5, 0.95)
"""The percentiles in `RegionFit.lengths` and `RegionFit.aspects`, as shares of the surface's area."""


class NoTexture(MeshqcError):
    """The surface has no UVs, or the UVs have no area."""


@dataclass(frozen=True, eq=False)
class RegionFit:
    """A material or one of its UV islands, measured over n frames. It has an area in at least one frame. In frames in
    which it has no area, `aspects` and `lengths` are NaN.

    Attributes:
        material: The material; None for faces without a material.
        island: Number of the island in `TextureFit.islands`; None for the whole material.
        faces: Number of faces.
        use: UV coverage; None if there are no triangles.
        aspects: Width over height of an undistorted texture, at the percentiles of SHARES, (n, 3).
        lengths: Scene units on the surface per unit of UV, at the percentiles of SHARES, (n, 3).
        area: Area on the surface, in square scene units, (n,).
        facing: Vector in the direction that the region faces, (n, 3). Its length is the area that is seen from that
            direction. For a closed surface, the vector is 0.
        reading: How lettering that is upright in the texture reads on the surface.
    """

    material: Name | None
    island: int | None
    faces: int
    use: UvUse | None
    aspects: Floats
    lengths: Floats
    area: Floats
    facing: Floats
    reading: Reading

    @property
    def side(self) -> Floats | None:
        """The direction that the region faces over all frames, as a unit vector, (3,); None if there is no single
        direction.
        """
        mean = self.facing.sum(axis=0)
        size = float(np.linalg.norm(mean))
        return mean / size if size > _LOOKS_AWAY * float(np.nansum(self.area)) else None

    @cached_property
    def wanted_aspect(self) -> float:
        """Width over height of the texture that the whole sequence needs: the geometric mean, over the frames, of the
        median in `aspects`. A strip of the texture on the rim of a thick object has no effect on the median.
        """
        return _geometric_mean(self.aspects[:, 1])

    @cached_property
    def typical_length(self) -> float:
        """Scene units per unit of UV: the geometric mean, over the frames, of the median in `lengths`."""
        return _geometric_mean(self.lengths[:, 1])

    def pixels(self, density: float) -> tuple[int, int]:
        """Calculate the width and height, in pixels, of a texture that has at least `density` pixels per scene unit on
        half of the surface in every frame.

        Only half of the surface counts, because a few faces squeezed into a corner of the texture could require a
        texture of any size.
        """
        side = density * self.longest
        root = float(np.sqrt(self.wanted_aspect))
        return _whole_pixels(side * root), _whole_pixels(side / root)

    @property
    def longest(self) -> float:
        """Scene units per unit of UV: the maximum, over the frames, of the median in `lengths`."""
        return float(np.nanmax(self.lengths[:, 1]))

    def density(self, width: int, height: int) -> Floats:
        """Calculate the density of a texture on this region, in pixels per scene unit.

        Args:
            width: Width of the texture, in pixels.
            height: Height of the texture, in pixels.

        Returns:
            The 5th, 50th and 95th percentiles of the density over the surface in each frame, (n, 3).
        """
        return float(np.sqrt(float(width) * height)) / self.lengths[:, ::-1]


@dataclass(frozen=True, eq=False)
class TextureFit:
    """The texture that a sequence needs.

    Attributes:
        frames: Numbers of the n frames that were measured.
        left_out: Numbers of the other frames, which can't be read, or whose faces or UV indices differ from those of
            the reference frame.
        materials: One region per material that has an area in any of the frames.
        regions: The larger UV islands of each material.
        islands: All UV islands of the reference frame.
        normals: Normals of the triangles, weighted by area and added up over all frames, (3, t).
    """

    frames: tuple[Fraction, ...]
    left_out: tuple[Fraction, ...]
    materials: tuple[RegionFit, ...]
    regions: tuple[RegionFit, ...]
    islands: Islands
    normals: Floats


@dataclass(frozen=True, eq=False)
class _Region:
    material: Name | None
    island: int | None
    faces: int
    triangles: Indices
    use: UvUse | None


def fit_texture(
    series: Series, upright: Upright | None = None, progress: Progress = quiet, cancelled: Cancel = never
) -> TextureFit:
    """Fit one texture to all frames that have the same faces and UV indices as the reference frame. These frames are
    read again, at most two at a time.

    Args:
        series: The sequence.
        upright: The scene's up and front directions; None for y up and z to the front.
        progress: Called after each frame.
        cancelled: Returns whether to stop.

    Raises:
        NoTexture: The reference frame has no UVs, or the UVs have no area.
        MeshqcError: No frame is readable.
        Cancelled: The work was stopped.
    """
    name = series.sequence.pattern.display
    if series.reference_facts.faces_without_uvs == series.reference_facts.faces:
        raise NoTexture(f"{name}: the faces have no UVs, so no texture can be fitted")
    indices = alike(series)
    triangulator = Triangulator()
    reference = next(iter(replay(series, [series.reference_index or 0])))
    triangles = triangulator.of(reference)
    islands = find_islands(reference)
    regions = _regions(reference, triangles, islands)
    rows: list[list[dict[str, npt.ArrayLike]]] = [[] for _ in regions]
    normals = np.zeros((3, len(triangles)))
    values: dict[str, npt.ArrayLike] = {}
    triangles_of_material = 0
    for frame in replay(series, indices, progress, cancelled):
        metric = measure_frame(frame, triangulator.of(frame))
        normals += metric.normal
        lines = directions(metric, upright or Upright())
        for row, region in zip(rows, regions, strict=True):
            # Each material is followed by its islands. An island that is the whole material has the same values.
            if region.island is None or len(region.triangles) != triangles_of_material:
                values = measure_region(metric, lines, region.triangles)
            if region.island is None:
                triangles_of_material = len(region.triangles)
            row.append(values)
    fits = [_fitted(region, row) for region, row in zip(regions, rows, strict=True) if any(one["area"] for one in row)]
    if not fits:
        raise NoTexture(f"{name}: the UVs have no area, so no texture can be fitted")
    numbers = tuple(series.facts[index].number for index in indices)
    return TextureFit(
        frames=numbers,
        left_out=tuple(dict.fromkeys(one.number for one in series.facts if one.number not in numbers)),
        materials=tuple(fit for fit in fits if fit.island is None),
        regions=tuple(fit for fit in fits if fit.island is not None),
        islands=islands,
        normals=normals,
    )


def measure_region(
    metric: Metric, lines: Directions, triangles: Indices, weights: Floats | None = None
) -> dict[str, npt.ArrayLike]:
    """Measure a region in one frame.

    The pixels of a texture are square on a triangle if the texture's width over height is |Ss| / |St| (see
    surface/metric.py).

    Args:
        metric: All triangles of the frame.
        lines: Directions of lettering on the triangles.
        triangles: Indices of the region's triangles.
        weights: Weight of each triangle of the frame, (t,); None to use the areas of the triangles.

    Returns:
        The frame's values for `RegionFit` and for the arguments of `summarise`, by name.
    """
    chosen = triangles[metric.usable[triangles] & (metric.area[triangles] > 0.0)]
    weight, scale = (metric.area if weights is None else weights)[chosen], metric.scale[chosen]
    aspect = metric.u_length[chosen] / metric.v_length[chosen]
    total = weight.sum()
    share = weight / total if total > 0.0 else weight
    return {
        "aspects": _percentiles(aspect, weight),
        "lengths": _percentiles(scale, weight),
        "area": total,
        "facing": metric.normal[:, chosen].sum(axis=1) / 2.0,
        "upright": (lines.upright[chosen] * share).sum(),
        "flat": (lines.flat[chosen] * share).sum(),
        "tilt": (lines.tilt[chosen] * share).sum(),
        "mirrored": share[lines.mirrored[chosen]].sum(),
    }


def _regions(frame: Frame, triangles: Triangles, islands: Islands) -> list[_Region]:
    """List the regions: each material, followed by its large UV islands in descending order of size."""
    of_triangle = islands.of_face[triangles.face]
    area = np.abs(measure_frame(frame, triangles).uv_area)
    sizes = np.bincount(of_triangle[of_triangle >= 0], area[of_triangle >= 0], minlength=len(islands))
    materials = tuple(dict.fromkeys(islands.material))
    of_material = np.array([materials.index(name) for name in islands.material], np.int64)
    regions = []
    for number, material in enumerate(materials):
        members = np.flatnonzero(of_material == number)
        regions.append(_region(frame, triangles, islands, material, members))
        large = [one for one in members if sizes[one] >= _ISLAND_SHARE * sizes[members].sum() > 0.0]
        largest = sorted(large, key=lambda one: -sizes[one])[:_ISLANDS_KEPT]
        regions += [_region(frame, triangles, islands, material, np.array([one]), int(one)) for one in largest]
    return regions


def _region(
    frame: Frame,
    triangles: Triangles,
    islands: Islands,
    material: Name | None,
    members: Indices,
    island: int | None = None,
) -> _Region:
    inside = np.isin(islands.of_face, members)
    chosen = np.flatnonzero(inside[triangles.face])
    use = uv_use(frame.uvs[:, :2][frame.corners.vt[triangles.corners[chosen]]])
    return _Region(material, island, int(inside.sum()), chosen, use)


def _fitted(region: _Region, rows: Sequence[dict[str, npt.ArrayLike]]) -> RegionFit:
    columns = {name: np.array([row[name] for row in rows]) for name in rows[0]}
    filled = columns["area"] > 0.0
    means = {name: columns.pop(name)[filled].mean().item() for name in ("upright", "flat", "tilt", "mirrored")}
    reading = summarise(**means)
    return RegionFit(region.material, region.island, region.faces, region.use, reading=reading, **columns)


def _geometric_mean(values: Floats) -> float:
    return float(np.exp(np.nanmean(np.log(values))))


def _whole_pixels(length: float) -> int:
    """Round a length up to whole pixels, at least 1, ignoring an excess of up to 0.01 pixels as a rounding error."""
    return max(1, int(np.ceil(length - 0.01)))


def _percentiles(values: Floats, weights: Floats) -> tuple[float, ...]:
    """Calculate weighted percentiles.

    Args:
        values: The values, (k,).
        weights: The weight of each value, 0 or more, (k,).

    Returns:
        For each share in SHARES, the smallest value v for which the values up to and including v have at least that
        share of the total weight; NaN if the total weight is 0.
    """
    order = np.argsort(values)
    heaped = np.cumsum(weights[order])
    if not len(heaped) or heaped[-1] <= 0.0:
        return (float("nan"),) * len(SHARES)
    # a share that is met exactly must not be missed because of rounding errors in the sum
    places = np.searchsorted(heaped, np.array(SHARES) * heaped[-1] * (1.0 - 1e-12))
    return tuple(values[order[np.minimum(places, len(order) - 1)]].tolist())
