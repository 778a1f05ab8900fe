"""Determine the texture, the lettering box and the picture for a sequence, as requested by the user."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np

from inspector.arrays import Flags
from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.lettering.captions import CaptionFit, fit_captions
from inspector.lettering.legibility import (
    LETTER_SAMPLES,
    READ_SEEN,
    Legibility,
    Shot,
    legibility,
    see,
    uv_corners,
)
from inspector.lettering.safe_lettering import LETTER_STRETCH, SafeArea, safe_areas
from inspector.lettering.texel_density import density_for_camera, density_to_fill
from inspector.lettering.texture_fit import RegionFit, TextureFit, fit_texture
from inspector.lettering.viewpoint import View
from inspector.names import Name, safe
from inspector.picture.image_files import IMAGE_PIXELS
from inspector.sequence.run.replay import replay
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series
from inspector.surface.lettering_box import Rectangle
from inspector.surface.locate import locate
from inspector.surface.text_direction import READ_TURN
from inspector.surface.triangles import triangulate

_TRIED = 8
"""Maximum number of safe rectangles to try for lettering, from the largest to the smallest."""

_JUDGED = 24
"""Maximum number of evenly spread frames in which materials are compared, if no safe rectangle has upright, visible
lettering.
"""

Stage = Callable[[str, int, int], None]
"""A progress callback. It is called with a description of the current stage, the number of steps done, and the total
number of steps.
"""


def silent(doing: str, done: int, total: int) -> None:
    """Report no progress.

    Args:
        doing: Description of the current stage.
        done: Number of steps done.
        total: Total number of steps.
    """


@dataclass(frozen=True, slots=True)
class FitRequest:
    """The user's request to fit a texture and lettering to a sequence.

    Attributes:
        view: The picture in which lettering is judged.
        density: Required density of the texture, in pixels per scene unit; None to calculate the density.
        fills: Width, in pixels, of a picture that the surface fills. The density is calculated for this picture. If
            `fills` is None, the density is calculated for the picture of `view`. The surface is then assumed to fill
            the picture of `view` unless `view` has a distance.
        material: Displayed name of the lettering's material; None to choose a material.
        rectangle: The lettering box, in UV; None to choose a safe box.
        stretch: Maximum factor by which letters may grow or shrink.
        captions: Captions to fit into the lettering box.
    """

    view: View = field(default_factory=View)
    density: float | None = None
    fills: int | None = None
    material: str | None = None
    rectangle: Rectangle | None = None
    stretch: float = LETTER_STRETCH
    captions: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class SequenceFit:
    """The texture, the lettering box and the picture for a sequence.

    Attributes:
        series: The sequence.
        wanted: The user's request.
        texture: The texture fit over all frames.
        areas: The safe areas, in descending order of size.
        region: The region that carries the lettering; None if nothing is safe and no box was stated.
        rectangle: The lettering box, in UV; None if `region` is None.
        shot: The picture in which lettering is judged.
        density: Pixels per scene unit that the texture needs.
        limited: Whether the maximum size of a texture makes `density` too low for the picture.
    """

    series: Series
    wanted: FitRequest
    texture: TextureFit
    areas: tuple[SafeArea, ...]
    region: RegionFit | None
    rectangle: Rectangle | None
    shot: Shot
    density: float
    limited: bool = False

    @cached_property
    def material(self) -> RegionFit:
        """The material that carries the lettering. Without a lettering box, this is the stated material or, if none is
        stated, the largest material.
        """
        fits = [fit for fit in self.texture.materials if _fits(fit, self.wanted)]
        if self.region is not None:
            fits = [fit for fit in fits if fit.material == self.region.material]
        return max(fits, key=lambda fit: float(np.nanmax(fit.area)))

    @property
    def choices(self) -> int:
        """Number of materials from which the lettering's material was chosen; 1 if there was no choice."""
        if self.region is None or self.wanted.material is not None:
            return 1
        safe = {area.region.material for area in self.areas if area.rectangle is not None}
        return len(safe | {self.region.material})


def display(material: Name | None) -> str:
    """Return the displayed name of a material."""
    return "no material" if material is None else material.display


def fit_sequence(series: Series, wanted: FitRequest, stage: Stage = silent, cancelled: Cancel = never) -> SequenceFit:
    """Determine the texture, the lettering box and the picture for a sequence. Each frame is read at least twice.

    Args:
        series: The sequence.
        wanted: The user's request.
        stage: Called with the progress.
        cancelled: Returns whether to stop.

    Raises:
        MeshqcError: The sequence has no readable frame, or no UVs with an area; the material doesn't exist; there is no
            surface under the lettering box; or the density can't be calculated.
        Cancelled: The work was stopped.
    """
    texture = fit_texture(series, wanted.view.upright, partial(stage, "measuring the surface"), cancelled)
    _material_is_there(series, texture, wanted.material)
    areas = safe_areas(
        series, texture, wanted.stretch, progress=partial(stage, "finding where lettering is safe"), cancelled=cancelled
    )
    region, rectangle, shot = _lettering(series, wanted, texture, areas, stage, cancelled)
    density, limited = _density(series, wanted, texture)
    return SequenceFit(series, wanted, texture, areas, region, rectangle, shot, density, limited)


def thinned(series: Series, most: int) -> Series:
    """Return a series of evenly spread frames, including the reference frame.

    A series with at most `most` frames, or without a reference frame, is returned unchanged.

    Args:
        series: The sequence.
        most: Maximum number of frames.
    """
    if len(series.facts) <= most or series.reference_index is None:
        return series
    chosen = {*evenly(len(series.facts), most - 1), series.reference_index}
    facts = [series.facts[index] for index in sorted(chosen)]
    sequence = replace(series.sequence, files=tuple(one.file for one in facts))
    return Series(sequence, tuple(facts), facts.index(series.reference_facts))


def evenly(count: int, most: int) -> list[int]:
    """Choose at most `most` evenly spread integers from 0 to `count` - 1."""
    places: list[int] = np.linspace(0, count - 1, min(count, most)).round().astype(int).tolist()
    return places


def placed(fit: SequenceFit, material: str | None, rectangle: Rectangle | None) -> SequenceFit:
    """Move the lettering to a different material or box. The reference frame is read again. Further frames are read
    again if a material has to be chosen.

    Args:
        fit: The measured sequence.
        material: Displayed name of the lettering's material; None to choose a material.
        rectangle: The lettering box, in UV; None to choose a safe box.

    Raises:
        MeshqcError: The material doesn't exist, or there is no surface under the lettering box.
    """
    wanted = replace(fit.wanted, material=material, rectangle=rectangle)
    _material_is_there(fit.series, fit.texture, material)
    region, box, shot = _lettering(fit.series, wanted, fit.texture, fit.areas)
    return replace(fit, wanted=wanted, region=region, rectangle=box, shot=shot)


def _lettering(
    series: Series,
    wanted: FitRequest,
    texture: TextureFit,
    areas: tuple[SafeArea, ...],
    stage: Stage = silent,
    cancelled: Cancel = never,
) -> tuple[RegionFit | None, Rectangle | None, Shot]:
    """Choose the region and the box for lettering, and the picture in which lettering is judged.

    If no box is stated, the box is the largest safe rectangle in which lettering is upright and visible in the
    reference frame. If there is no such rectangle, each material has one candidate: its most visible rectangle with
    upright lettering or, if there is none, its most visible rectangle. The candidate in which lettering is readable in
    the most frames is chosen.

    The picture is taken from the stated side or, if none is stated, from the side that the surface in the box faces.

    Returns:
        The region, the box and the picture. The region and the box are None if no box is stated and no rectangle is
        safe.

    Raises:
        MeshqcError: There is no surface under the stated box.
        Cancelled: The work was stopped.
    """
    frame: Frame = next(iter(replay(series, [series.reference_index or 0])))
    triangles = triangulate(frame.corners, frame.positions)
    if wanted.rectangle is not None:
        region = _region_at(series, texture, wanted)
        candidates = [(region, wanted.rectangle)]
    else:
        safe = [area for area in areas if _fits(area.region, wanted)][:_TRIED]
        candidates = [(area.region, area.rectangle) for area in safe if area.rectangle is not None]
    best: dict[Name | None, tuple[tuple[bool, float], RegionFit, Rectangle, Shot]] = {}
    for region, rectangle in candidates:
        samples = locate(uv_corners(frame, triangles, faces_of(texture, region)), rectangle, *LETTER_SAMPLES)
        facing = texture.normals[:, samples.triangle].sum(axis=1)
        size = float(np.linalg.norm(facing))
        shot = wanted.view.shot(series, facing / size if 0.0 < size < np.inf else None)
        seen_values = see(frame, triangles, samples, shot, rectangle)
        upright = abs(seen_values["turned"]) <= READ_TURN.value and seen_values["mirrored"] < 0.5
        if upright and seen_values["seen"] >= READ_SEEN:
            return region, rectangle, shot
        rank = upright, seen_values["seen"]
        if region.material not in best or rank > best[region.material][0]:
            best[region.material] = rank, region, rectangle, shot
    if best:
        ranked = sorted(best.values(), key=lambda one: one[0], reverse=True)
        if len(ranked) > 1:
            some = thinned(series, _JUDGED)
            readable = []
            for number, (_, region, rectangle, shot) in enumerate(ranked):
                stage("comparing the materials", number, len(ranked))
                seen = legibility(some, shot, rectangle, faces_of(texture, region), cancelled=cancelled)
                readable.append(int(seen.readable().sum()))
            return ranked[readable.index(max(readable))][1:]
        return ranked[0][1:]
    largest = next((region for region in texture.regions if _fits(region, wanted)), None)
    return None, None, wanted.view.shot(series, None if largest is None else largest.side)


def read_lettering(
    fit: SequenceFit, stage: Stage = silent, cancelled: Cancel = never
) -> tuple[Legibility, tuple[CaptionFit, ...]] | None:
    """Judge whether text in the lettering box can be read, and fit each caption into the box. The frames are read
    again.

    Args:
        fit: The measured sequence.
        stage: Called with the progress.
        cancelled: Returns whether to stop.

    Returns:
        The visibility of the lettering box, and the fit of each caption; None if there is no lettering box.

    Raises:
        Cancelled: The work was stopped.
    """
    if fit.rectangle is None or fit.region is None:
        return None
    faces = faces_of(fit.texture, fit.region)
    seen = legibility(fit.series, fit.shot, fit.rectangle, faces, partial(stage, "measuring legibility"), cancelled)
    return seen, fit_captions(fit.wanted.captions, seen, fit.material.wanted_aspect)


def _density(series: Series, wanted: FitRequest, texture: TextureFit) -> tuple[float, bool]:
    """Determine the density that the texture needs.

    If the surface is assumed to fill the picture and no side is stated, the views from the front and from the right are
    compared. In each frame, the view in which the surface is wider is used. The side that the lettering faces is not
    used, so the density is the same for all materials and in all commands.

    Returns:
        The density, in pixels per scene unit, and whether it was limited by the maximum size of a texture.
    """
    if wanted.density is not None:
        return wanted.density, False
    shot = wanted.view.shot(series)
    if wanted.fills is None and wanted.view.distance is not None:
        return density_for_camera(series, shot.camera, shot.height), False
    across = shot.camera.axes[[0, 2] if wanted.view.side is None else [0]]
    density = density_to_fill(series, wanted.fills or shot.width, across)
    if wanted.fills is not None:
        return density, False
    largest = (IMAGE_PIXELS.value**0.5 - 1.0) / max(fit.longest for fit in texture.materials)  # sizes are rounded up
    return min(density, largest), density > largest


def _material_is_there(series: Series, texture: TextureFit, material: str | None) -> None:
    names = [display(fit.material) for fit in texture.materials]
    if material is not None and material not in names:
        there = ", ".join(names)
        raise MeshqcError(
            f"{series.sequence.pattern.display}: no material with UVs is named `{safe(material)}`; materials with "
            f"UVs: {there}"
        )


def _fits(region: RegionFit, wanted: FitRequest) -> bool:
    return wanted.material is None or display(region.material) == wanted.material


def faces_of(texture: TextureFit, region: RegionFit) -> Flags:
    """Return whether each face belongs to a region, (f,).

    Args:
        texture: The texture fit.
        region: One of its UV islands or materials.
    """
    islands = texture.islands
    if region.island is not None:
        return np.asarray(islands.of_face == region.island)
    members = np.array([name == region.material for name in islands.material])
    return np.asarray((islands.of_face >= 0) & members[islands.of_face])


def _region_at(series: Series, texture: TextureFit, wanted: FitRequest) -> RegionFit:
    """Return the region of the UV island under the largest part of the stated lettering box. If the island is too small
    to have a region, return the region of the island's material.

    Raises:
        MeshqcError: There is no surface under the box.
    """
    rectangle = wanted.rectangle
    assert rectangle is not None
    frame: Frame = next(iter(replay(series, [series.reference_index or 0])))
    triangles = triangulate(frame.corners, frame.positions)
    ours = np.zeros(frame.faces, bool)
    for one in texture.materials:
        ours |= faces_of(texture, one) & _fits(one, wanted)
    uv = np.full((len(triangles), 3, 2), np.nan)
    inside = np.flatnonzero(ours[triangles.face])
    uv[inside] = frame.uvs[:, :2][frame.corners.vt[triangles.corners[inside]]]
    found = texture.islands.of_face[triangles.face[locate(uv, rectangle, *LETTER_SAMPLES).triangle]]
    if not len(found):
        raise MeshqcError(
            f"{series.sequence.pattern.display}: there is no surface under the stated lettering box; choose another box"
        )
    island = int(np.bincount(found).argmax())
    material = texture.islands.material[island]
    regions = [one for one in texture.regions if one.island == island]
    return regions[0] if regions else next(one for one in texture.materials if one.material == material)
