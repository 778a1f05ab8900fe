"""Describe the texture fit as text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.lettering.captions import CaptionFit
from inspector.lettering.legibility import READ_PIXELS, Legibility, Obstacle
from inspector.lettering.maps_fit import MAP_SQUEEZE, MapFit
from inspector.lettering.safe_lettering import SafeArea
from inspector.lettering.sequence_fit import SequenceFit, display
from inspector.lettering.texture_fit import RegionFit
from inspector.lettering.viewpoint import word_of_side
from inspector.names import amount, counted, safe
from inspector.report.letter_plot import letter_plot
from inspector.report.text import sequence_range, sequence_title
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.frame_ranges import frame_ranges, frames_words
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.lettering_box import Rectangle
from inspector.surface.text_direction import Upright

READ = "R"
LETTERS = {
    Obstacle.HIDDEN: "H",
    Obstacle.AWAY: "F",
    Obstacle.OUTSIDE: "O",
    Obstacle.MIRRORED: "M",
    Obstacle.TURNED: "T",
    Obstacle.ASLANT: "A",
    Obstacle.SMALL: "S",
    Obstacle.FAINT: "C",
}
"""Marks of frames in the plot, by the reason why lettering is unreadable."""

_INDENT = "    "


@dataclass(frozen=True, eq=False)
class FitReport:
    """The results of `meshqc fit` for one sequence.

    Attributes:
        fit: The texture fit.
        lettering: The legibility of lettering, and the fit of each caption; None if there is no lettering box.
        maps: The texture maps of all materials.
    """

    fit: SequenceFit
    lettering: tuple[Legibility, tuple[CaptionFit, ...]] | None
    maps: tuple[MapFit, ...]

    @property
    def known_map(self) -> MapFit | None:
        """The first map of known size on the material with the lettering; None if there is no such map."""
        material = self.fit.material.material
        return next((one for one in self.maps if one.map.map.material == material and one.size is not None), None)

    @property
    def texture_size(self) -> tuple[int, int]:
        """Width and height, in pixels, of `known_map` or, if there is no such map, of the texture that the material
        needs."""
        found = self.known_map
        size = None if found is None else found.size
        return self.fit.material.pixels(self.fit.density) if size is None else size


def fit_text(report: FitReport, style: TextStyle, only: RegionFit | None = None) -> str:
    """Describe the texture that each material needs, with its islands and maps, and the legibility of lettering over
    time."""
    fit = report.fit
    lines = [style.strong(f"{sequence_title(fit.series.sequence)}  {sequence_range(fit.series.sequence)}")]
    if fit.texture.left_out:
        where = frames_words(fit.texture.left_out, fit.series.sequence).removeprefix(", ")
        words = f"{where} (unreadable, or with faces or UV indices that differ from the reference frame's)"
        lines += style.wrap(words, "  left out: ")
    for material in fit.texture.materials if only is None else [only]:
        lines += _material(report, material, style)
    lines += _lettering(report, style)
    return "\n".join([*lines, ""]) + "\n"


def _material(report: FitReport, material: RegionFit, style: TextStyle) -> Iterator[str]:
    fit = report.fit
    yield style.strong(f"  {display(material.material)}, {counted(material.faces, 'face')}")
    for label, text in figures(fit, material):
        yield from style.wrap(text, f"{_INDENT}{label:10}")
    for island, words in islands(fit, material):
        yield from style.wrap(words, f"{_INDENT}island {island:<3}")
    for one in report.maps:
        if one.map.map.material == material.material:
            yield from style.wrap(map_words(one), f"{_INDENT}map       ")


def islands(fit: SequenceFit, material: RegionFit) -> Iterator[tuple[str, str]]:
    """Describe the UV islands of a material, as pairs of an island's number and a description."""
    mine = [area for area in fit.areas if area.region.material == material.material]
    for area in sorted(mine, key=lambda area: area.region.island or 0):
        yield str(area.region.island), _island(fit, material, area)


def figures(fit: SequenceFit, material: RegionFit) -> Iterator[tuple[str, str]]:
    """Describe the texture that a material needs, as pairs of a label and a description."""
    width, height = material.pixels(fit.density)
    yield "aspect", f"{material.wanted_aspect:.4f} wide to 1 high{_aspect_spread(material)}"
    yield "size", f"{width} x {height} pixels, to give {amount(fit.density, 'pixel')} per unit ({wish_words(fit)})"
    coarse, middle, fine = (material.density(width, height)[:, column] for column in range(3))
    yield (
        "density",
        f"at that size, the median density is {_span(middle)} pixels per unit over all frames; "
        f"{np.nanmin(coarse):.4g} or fewer on the coarsest 5% of the surface{_largest(fit, coarse)}, "
        f"{np.nanmax(fine):.4g} or more on the finest 5%",
    )
    if material.use is not None:
        yield "coverage", _coverage(material)
    shown = sum(region.material == material.material for region in fit.texture.regions)
    there = fit.texture.islands.material.count(material.material)
    if shown < there:
        yield (
            "islands",
            f"{there}, of which the {shown} largest are listed" if shown else f"{there}, all too small to be listed",
        )


def wish_words(fit: SequenceFit) -> str:
    """Explain the choice of the texel density."""
    wanted = fit.wanted
    if wanted.density is not None:
        return "as stated"
    view, distance = wanted.view, wanted.view.distance
    if wanted.fills is None and distance is not None:
        return (
            f"seen from {amount(distance, 'unit', 'g')} away, with a field of view of "
            f"{amount(view.field_of_view, 'degree', 'g')} over {view.height} pixels"
        )
    if fit.limited:
        return "the largest size in common use, although the surface could show more detail"
    return f"the surface fills a picture {wanted.fills or fit.shot.width} pixels wide"


def _aspect_spread(material: RegionFit) -> str:
    low, _, high = np.nanmedian(material.aspects, axis=0).tolist()
    if high <= MAP_SQUEEZE * low:
        return ""
    return f" (varies from {low:.3g} to {high:.3g} over the surface: circles become ellipses)"


def _largest(fit: SequenceFit, coarse: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
    number = fit.texture.frames[int(np.nanargmin(coarse))]
    return "" if len(fit.texture.frames) == 1 else f" in frame {frame_text(number)}"


def _span(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
    low, high = f"{np.nanmin(values):.4g}", f"{np.nanmax(values):.4g}"
    return low if low == high else f"{low} to {high}"


def _coverage(material: RegionFit) -> str:
    use = material.use
    assert use is not None
    if use.used is None:
        return "the UVs cover many unit squares: the texture is a repeated pattern"
    parts = [f"{_percent(use.used)} of the texture"]
    if use.overlap:
        parts.append(
            f"{_percent(use.overlap)} of the island area overlaps: overlapping faces show the same texture pixels"
        )
    if use.outside:
        parts.append("UVs extend beyond the unit square, so the texture repeats")
    return "; ".join(parts)


def _island(fit: SequenceFit, material: RegionFit, area: SafeArea) -> str:
    region = area.region
    words = [counted(region.faces, "face"), facing_words(region, fit.wanted.view.upright)]
    words.append(f"lettering reads {region.reading.words}")
    box = _safe_words(area.rectangle, material.pixels(fit.density))
    return f"{', '.join(filter(None, words))}; {box}"


def facing_words(region: RegionFit, upright: Upright) -> str:
    """Describe the side that a region faces; "" if it doesn't face a single side."""
    return "" if region.side is None else f"pointing {_sides()[word_of_side(region.side, upright)]}"


def _sides() -> dict[str, str]:
    sides = {"above": "up", "below": "down", "front": "to the front", "back": "to the back"}
    return sides | {side: f"to the {side}" for side in ("left", "right")}


def _safe_words(rectangle: Rectangle | None, pixels: tuple[int, int]) -> str:
    if rectangle is None:
        return "no safe box for lettering"
    width, height = pixels
    left, bottom = rectangle.left % 1.0 * width, rectangle.bottom % 1.0 * height  # UVs may be outside the unit square
    return (
        f"keep lettering in a box {rectangle.width * width:.0f} pixels wide and {rectangle.height * height:.0f} high, "
        f"{left:.0f} from the left and {bottom:.0f} from the bottom of the texture ({box_words(rectangle)})"
    )


def box_words(rectangle: Rectangle) -> str:
    """List the UV coordinates of a box's sides, in the order that the option `--lettering-box` expects."""
    sides = {name: getattr(rectangle, name) for name in ("left", "bottom", "right", "top")}
    return f"UV {', '.join(f'{name} {side:.4f}' for name, side in sides.items())}"


def map_words(one: MapFit) -> str:
    """Describe a map: name, size, and the problems with the size."""
    name = f"{one.map.map.name} ({safe(one.map.map.statement.display)})"
    if one.size is None:
        return f"{name}: {one.unknown}"
    verdict = "; ".join(one.verdicts) or "fits the surface"
    return f"{name}: {one.size[0]} x {one.size[1]}: {verdict}"


def _lettering(report: FitReport, style: TextStyle) -> Iterator[str]:
    fit = report.fit
    if report.lettering is None:
        yield from style.wrap(place_words(fit), "  lettering: ")
        return
    seen, captions = report.lettering
    yield from style.wrap(
        f"{place_words(fit)}. For each frame, the plot shows the height in pixels of letters that fill the box, and "
        "whether these letters are readable:",
        "  lettering ",
        _INDENT,
    )
    ends = frame_text(seen.frames[0]), frame_text(seen.frames[-1])
    plot = letter_plot(seen.height, "".join(letters(seen)), style.width - 4, ends)
    yield from (_INDENT + line for line in plot)
    yield from style.wrap(key_words(seen), _INDENT)
    yield from style.wrap(means_words(seen), _INDENT)
    yield from style.wrap(read_words(fit, seen, 1.0), f"{_INDENT}letters that fill the box are readable in ", _INDENT)
    for caption in captions:
        yield from style.wrap(caption_words(fit, seen, caption), _INDENT, _INDENT + "  ")


def place_words(fit: SequenceFit) -> str:
    """Describe the lettering box and the view, or explain why there is no box."""
    if fit.rectangle is None or fit.region is None:
        bound = (
            "wherever the text is placed, letters would grow or shrink by a factor of more than "
            f"{fit.wanted.stretch:g} (see --stretch)"
        )
        return f"no box is safe in all frames: {bound}"
    place = f"island {fit.region.island}" if fit.region.island is not None else display(fit.region.material)
    if fit.choices > 1:
        chosen = f"{display(fit.region.material)}, 1 of {fit.choices} materials with space for lettering"
        place = f"{place} of {chosen}" if fit.region.island is not None else chosen
        place += " (to choose another, use --material NAME)"
    return f"in the box {box_words(fit.rectangle)} on {place}, {view_words(fit)}"


def letters(seen: Legibility) -> list[str]:
    """Return the mark of each frame: READ if lettering is readable, otherwise the letter for the reason."""
    return [READ if one is None else LETTERS[one] for one in seen.obstacles()]


def view_words(fit: SequenceFit) -> str:
    """Describe the picture: the direction of view, the size, and the field of view."""
    shot = fit.shot
    side = word_of_side(-shot.camera.axes[2], fit.wanted.view.upright)
    where = side if side in ("above", "below") else f"the {side}"
    return (
        f"seen from {where} in a picture {shot.width} pixels wide and {shot.height} high "
        f"(field of view {amount(shot.camera.field_of_view, 'degree', 'g')}, vertical)"
    )


def key_words(seen: Legibility) -> str:
    """Explain the marks that occur, as in `R readable, M mirrored`."""
    obstacles = seen.obstacles()
    used = [one for one in Obstacle if one in obstacles]
    words = [f"{READ} readable"] if None in obstacles else []
    return ", ".join([*words, *(f"{LETTERS[one]} {one.value}" for one in used)])


def means_words(seen: Legibility) -> str:
    """Describe the worst values over all frames: visible share of the box, angle of view, and rotation."""
    if not np.isfinite(seen.height).any():
        return "no part of the box is visible in any frame"
    turned = float(np.nanmax(np.abs(seen.turned)))
    slant = np.degrees(np.arccos(np.clip(np.nanmin(seen.foreshortening), 0.0, 1.0)))
    share = _percent(float(seen.seen.min()))
    return (
        f"at worst, {share} of the box is visible, the view is {amount(slant, 'degree', '.0f')} from head-on, and "
        f"lines of text are rotated by {amount(turned, 'degree', '.0f')} in the picture"
    )


def read_words(fit: SequenceFit, seen: Legibility, share: float) -> str:
    """List the frames in which letters of a certain height are readable, or explain why there are none.

    Args:
        fit: The texture fit of the sequence.
        seen: The visibility of the lettering box.
        share: Height of the letters, as a fraction of the height of the box.
    """
    good = [number for number, fine in zip(seen.frames, seen.readable(share), strict=True) if fine]
    if not good:
        causes = [one for one in seen.obstacles(share) if one is not None]
        worst = max(causes, key=causes.count)
        needed = f" ({READ_PIXELS:g} pixels are needed)" if worst is Obstacle.SMALL else ""
        return f"no frame: {worst.value}{needed}"
    if len(good) == len(seen.frames):
        return "all frames"
    return f"{'frame' if len(good) == 1 else 'frames'} {frame_ranges(good, fit.series.sequence.step)}"


def caption_words(fit: SequenceFit, seen: Legibility, caption: CaptionFit) -> str:
    """Describe the height of a caption's letters, and the frames in which the caption is readable."""
    high = "not visible" if caption.heights is None else f"letters {_heights(*caption.heights)} pixels high"
    return f'"{safe(caption.text)}": {high}, readable in {read_words(fit, seen, caption.share)}'


def _heights(least: float, most: float) -> str:
    low, high = f"{least:.3g}", f"{most:.3g}"
    return low if low == high else f"{low} to {high}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}%"
