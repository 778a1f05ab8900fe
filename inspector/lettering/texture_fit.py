"""What texture the surface wants: its aspect, its size, how dense it lies and how lettering reads, over all frames."""

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
from inspector.surface.statistics import weighted_percentiles
from inspector.surface.text_direction import Directions, Reading, Upright, directions, summarise
from inspector.surface.triangles import Triangles, Triangulator
from inspector.surface.uv_use import UvUse, uv_use

_ISLAND_SHARE = 0.01
"""Share of a material's area in the texture from which a UV island is reported on its own; nobody puts lettering on a
smaller one."""

_ISLANDS_KEPT = 16
"""UV islands of a material that are reported on their own, the largest."""

_LOOKS_AWAY = 0.05
"""Share of a surface's area that must remain when its two sides are subtracted from each other for it to face one of
them. Of a closed surface nothing but rounding remains."""

SHARES = (0.05, 0.5, 0.95)
"""The shares of the surface at which `RegionFit.lengths` and `aspects` are given."""


class NoTexture(MeshqcError):
    """No texture can be fitted: the surface has no UVs, or these have no area."""


@dataclass(frozen=True, eq=False)
class RegionFit:
    """A material, or one of its UV islands, over n frames.

    island: its number in `TextureFit.islands`, None for the whole material. faces: how many. aspects (n, 3): width
    over height that the texture must have so that it isn't squeezed at a place, at SHARES of the surface. lengths
    (n, 3): scene units on the surface for one unit of UV, at SHARES. area (n,): square scene units. NaN in frames in
    which the region has no area; there is one with some. facing (n, 3): which side the region looks to, as long as
    the area that is seen from there; 0 for a closed surface.
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
        """The side that the region looks to over all frames, a unit vector (3,); None if it looks to all sides."""
        mean = self.facing.sum(axis=0)
        size = float(np.linalg.norm(mean))
        return mean / size if size > _LOOKS_AWAY * float(np.nansum(self.area)) else None

    @cached_property
    def wanted_aspect(self) -> float:
        """Width over height of the texture for the whole sequence: half of the surface wants it wider, half narrower;
        geometric mean over the frames. The middle, so that a rim pulled over a thickness doesn't move it."""
        return _geometric_mean(self.aspects[:, 1])

    @cached_property
    def typical_length(self) -> float:
        """Scene units for one unit of UV, in the middle of the surface; geometric mean over the frames."""
        return _geometric_mean(self.lengths[:, 1])

    def pixels(self, density: float) -> tuple[int, int]:
        """Width and height of a texture with `density` pixels per scene unit on half of the surface in every frame.

        Half, not nearly all: a few faces that are crammed into a corner of the texture would else ask for any size.
        """
        side = density * self.longest
        root = float(np.sqrt(self.wanted_aspect))
        return _whole_pixels(side * root), _whole_pixels(side / root)

    @property
    def longest(self) -> float:
        """Scene units for one unit of UV in the middle of the surface, in the frame in which it is largest."""
        return float(np.nanmax(self.lengths[:, 1]))

    def density(self, width: int, height: int) -> Floats:
        """Pixels to a scene unit of a texture of this size, (n, 3): on the coarsest 5 %, on half, on all but the
        finest 5 % of the surface they are at most so many."""
        return float(np.sqrt(float(width) * height)) / self.lengths[:, ::-1]


@dataclass(frozen=True, eq=False)
class TextureFit:
    """frames: the numbers of the n frames measured; left_out: usable or not, those that aren't built like the
    reference; islands: of the reference, of which small ones have no region of their own; normals (3, t): of the
    reference's triangles, across the surface, summed over the frames with their areas."""

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
    """Measure every frame that is built like the reference; each is read again, two at a time in memory.

    Raises NoTexture if the reference has no UVs or these have no area, MeshqcError if no frame is readable, Cancelled
    when stopped.
    """
    name = series.sequence.pattern.display
    if series.reference_facts.faces_without_uvs == series.reference_facts.faces:
        raise NoTexture(f"{name}: without UVs no texture can be fitted")
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
            # Islands follow their material, and one may be all of it.
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
    """One frame's row for a region. weights (t,): what all triangles count for, where it isn't their area.

    Texels on a triangle are as wide as high if the texture's width over its height is |Ss| / |St| there (Ss, St: see
    surface/metric.py). On a planar map that fills the unit square that is the sheet's own aspect.
    """
    chosen = triangles[metric.usable[triangles] & (metric.area[triangles] > 0.0)]
    weight, scale = (metric.area if weights is None else weights)[chosen], metric.scale[chosen]
    aspect = metric.u_length[chosen] / metric.v_length[chosen]
    total = weight.sum()
    share = weight / total if total > 0.0 else weight
    return {
        "aspects": weighted_percentiles(aspect, weight, SHARES),
        "lengths": weighted_percentiles(scale, weight, SHARES),
        "area": total,
        "facing": metric.normal[:, chosen].sum(axis=1) / 2.0,
        "upright": (lines.upright[chosen] * share).sum(),
        "flat": (lines.flat[chosen] * share).sum(),
        "tilt": (lines.tilt[chosen] * share).sum(),
        "mirrored": share[lines.mirrored[chosen]].sum(),
    }


def _regions(frame: Frame, triangles: Triangles, islands: Islands) -> list[_Region]:
    """Each material, then its islands that are large enough, largest first."""
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
    """Rounded up, but not for a hundredth of a pixel: that is rounding of the numbers before."""
    return max(1, int(np.ceil(length - 0.01)))
