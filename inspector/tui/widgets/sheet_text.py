"""The requirements for a texture, in a few lines of text that are shown beside a drawing of the texture."""

from __future__ import annotations

from inspector.lettering.safe_lettering import SafeArea
from inspector.report.fit_text import FitReport, facing_words, read_words, wish_words
from inspector.surface.lettering_box import Rectangle
from inspector.tui.widgets.card import Card


def sheet_card(report: FitReport, template: str) -> Card:
    """Make a card about a texture: its aspect ratio, size, density, coverage and lettering boxes, and the frames in
    which lettering is readable."""
    fit, material, found = report.fit, report.fit.material, report.known_map
    wanted, size = material.pixels(fit.density), report.texture_size
    card = Card()
    if found is not None:
        card.add("texture  ", f"{found.map.map.name}, {size[0]:,} x {size[1]:,} px", hang=True)
    else:
        card.add("texture  ", "size not known; drawn at the required size", hang=True)
    now = "" if found is None else f"{size[0] / size[1]:.3g} : 1; "
    card.add("aspect   ", f"{now}needs {material.wanted_aspect:.3g} : 1", hang=True)
    card.add("size     ", f"needs {wanted[0]:,} x {wanted[1]:,} px: {wish_words(fit)}", hang=True)
    now = "" if found is None or found.density is None else f"{found.density:.3g}; "
    card.add("density  ", f"{now}needs {fit.density:.3g} px per unit", hang=True)
    if material.use is None or material.use.used is None:
        card.add("coverage ", "UVs extend over many unit squares, so the texture repeats", hang=True)
    else:
        card.add("coverage ", f"{material.use.used:.0%} of the texture", hang=True)
    areas = [area for area in fit.areas if area.region.material == material.material]
    for area in sorted(areas, key=lambda area: area.region.island or 0):
        card.add(f"island {area.region.island}".ljust(9), _island(report, area, size), hang=True)
    if report.lettering is not None:
        card.add(
            "lettering",
            f"letters as high as the box are readable in {read_words(fit, report.lettering[0], 1.0)}",
            hang=True,
        )
    card.add("", "Positions are in pixels of the texture, from its top left corner.")
    card.add("", template)
    return card


def _island(report: FitReport, area: SafeArea, size: tuple[int, int]) -> str:
    words = [facing_words(area.region, report.fit.wanted.view.upright), f"lettering {area.region.reading.words}"]
    box = "no lettering box" if area.rectangle is None else _box(area.rectangle, size)
    return "; ".join(filter(None, [*words, box]))


def _box(box: Rectangle, size: tuple[int, int]) -> str:
    """Describe a lettering box, as in `box at 64, 55, 43 x 43 px`. The box may be outside the unit square."""
    width, height = size
    left, top = box.left % 1.0 * width, (1.0 - box.bottom % 1.0 - box.height) * height
    return f"box at {left:.0f}, {top:.0f}, {box.width * width:.0f} x {box.height * height:.0f} px"
