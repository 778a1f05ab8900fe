"""Determine the texture that a surface needs over all frames: aspect, size, density, and how lettering reads on it."""

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
"""Minimum share of its material's area in the texture that a UV island must have to be reported by itself. Nobody puts
lettering on a smaller island.
"""

_ISLANDS_KEPT = 16
"""Maximum number of UV islands of a material that are reported by themselves. These are its largest islands."""

_LOOKS_AWAY = 0.05
"""A surface faces one side if more than this share of its area is left after opposite directions have cancelled out.
For a closed surface, nothing but rounding is left."""

SHARES = (0.05, 0.5, 0.95)
"""The percentiles over the surface, as shares of its area, in `RegionFit.lengths` and `RegionFit.aspects`."""


class NoTexture(MeshqcError):
    """No texture can be fitted: the surface has no UVs, or they have no area."""


@dataclass(frozen=True, eq=False)
class RegionFit:
    """A material, or one of its UV islands, over n frames.

    In frames in which the region has no area, `aspects` and `lengths` are NaN. It has area in at least one frame.

    Attributes:
        material: The material; None for faces without a material.
        island: Number of the island in `TextureFit.islands`; None for the whole material.
        faces: Number of faces.
        use: UV coverage; None if there are no triangles.
        aspects: Width over height of a texture that is not distorted: the percentiles of SHARES, (n, 3).
        lengths: Scene units on the surface per unit of UV: the percentiles of SHARES, (n, 3).
        area: Area on the surface, square scene units, (n,).
        facing: Direction that the region faces, (n, 3). Its length is the area as seen from there; 0 for a closed
            surface.
        reading: How plain lettering reads on it.
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
        """The direction that the region faces over all frames, a unit vector, (3,); None if it faces no single side."""
        mean = self.facing.sum(axis=0)
        size = float(np.linalg.norm(mean))
        return mean / size if size > _LOOKS_AWAY * float(np.nansum(self.area)) else None

    @cached_property
    def wanted_aspect(self) -> float:
        """Width over height of the texture for the whole sequence.

        It is the median over the surface, then the geometric mean over the frames. Because of the median, a border of
        the texture that runs over a thick edge makes no difference.
        """
        return _geometric_mean(self.aspects[:, 1])

    @cached_property
    def typical_length(self) -> float:
        """Scene units per unit of UV: the median over the surface, then the geometric mean over the frames."""
        return _geometric_mean(self.lengths[:, 1])

    def pixels(self, density: float) -> tuple[int, int]:
        """Width and height of a texture with at least `density` pixels per scene unit on half of the surface.

        This holds in every frame. It is required only of half of the surface, because a few faces that are squeezed
        into a corner of the texture could require any size.
        """
        side = density * self.longest
        root = float(np.sqrt(self.wanted_aspect))
        return _whole_pixels(side * root), _whole_pixels(side / root)

    @property
    def longest(self) -> float:
        """Scene units per unit of UV: the median over the surface, in the frame with the largest median."""
        return float(np.nanmax(self.lengths[:, 1]))

    def density(self, width: int, height: int) -> Floats:
        """Calculate the pixels per scene unit of a texture on this region.

        Args:
            width: Width of the texture, pixels.
            height: Height of the texture, pixels.

        Returns:
            For each frame, the densities that 5 %, 50 % and 95 % of the surface don't exceed, (n, 3).
        """
        return float(np.sqrt(float(width) * height)) / self.lengths[:, ::-1]


@dataclass(frozen=True, eq=False)
class TextureFit:
    """The texture that a sequence needs.

    Attributes:
        frames: The numbers of the n frames that were measured.
        left_out: The numbers of the other frames, which differ from the reference frame in their faces or UV indices,
            or can't be read.
        materials: One region for each material that has area in any of the frames.
        regions: The larger UV islands of each material.
        islands: All UV islands of the reference frame.
        normals: Area normals of the triangles of the reference frame, added up over all frames, (3, t).
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
    """Measure every frame that has the same faces and UV indices as the reference frame.

    Each of these frames is read again. At most two are in memory at a time.

    Args:
        series: The sequence.
        upright: Up and front in the scene; None for y up and z to the front.
        progress: Called after each frame.
        cancelled: Returns whether to stop.

    Raises:
        NoTexture: The reference frame has no UVs, or the UVs have no area.
        MeshqcError: No frame is readable.
        Cancelled: The work was stopped.
    """
    name = series.sequence.pattern.display
    if series.reference_facts.faces_without_uvs == series.reference_facts.faces:
        raise NoTexture(f"{name}: without UVs, no texture can be fitted")
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
            # Islands follow their material, and an island may be all of it.
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

    On a triangle, pixels of the texture are square if the texture's width over its height is |Ss| / |St| (for Ss and
    St, see surface/metric.py). For a flat sheet whose UVs fill the unit square, that is the aspect of the sheet.

    Args:
        metric: All triangles of the frame.
        lines: Directions of lettering on them.
        triangles: Indices of the region's triangles.
        weights: Weight of each triangle of the frame, (t,); None for its area.

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
    """List each material, followed by its UV islands that are large enough, the largest first."""
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
    """Round up to whole pixels, but ignore an excess of up to a hundredth of a pixel, which comes from rounding."""
    return max(1, int(np.ceil(length - 0.01)))


def _percentiles(values: Floats, weights: Floats) -> tuple[float, ...]:
    """Calculate weighted percentiles.

    Args:
        values: The values, (k,).
        weights: The weight of each value, 0 or more, (k,).

    Returns:
        For each of SHARES, the smallest value for which this value and all lower values together have at least that
        share of the weight; NaN if all weights are 0.
    """
    order = np.argsort(values)
    heaped = np.cumsum(weights[order])
    if not len(heaped) or heaped[-1] <= 0.0:
        return (float("nan"),) * len(SHARES)
    # a share that is met exactly must not be missed because of rounding in the sum
    places = np.searchsorted(heaped, np.array(SHARES) * heaped[-1] * (1.0 - 1e-12))
    return tuple(values[order[np.minimum(places, len(order) - 1)]].tolist())
