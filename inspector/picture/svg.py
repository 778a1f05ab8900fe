"""The template as SVG 1.1 (W3C recommendation of 2011), for programs that draw with lines."""

from __future__ import annotations

from xml.sax.saxutils import escape

import numpy as np

from inspector.arrays import Floats
from inspector.names import safe
from inspector.picture import template as look
from inspector.picture.canvas import Colour
from inspector.picture.coverage import twice_areas
from inspector.picture.template import Template, arrow_lines


def template_svg(template: Template) -> str:
    """The same drawing as `draw_template`, a layer (`g` with an id) to each part; one unit is one pixel."""
    width, height, line = template.width, template.height, template.line
    surface = _triangles(template.to_pixels(template.triangles))
    bleed = f'stroke="{_hex(look.BLEED)}" stroke-width="{2 * template.bleed}" stroke-linejoin="round"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{_text(template.title())}</title>",
        f'<rect width="{width}" height="{height}" fill="{_hex(look.PAPER)}"/>',
        _group("bleed", f'fill="{_hex(look.BLEED)}" {bleed}', _path(surface)),
        _group("surface", f'fill="{_hex(look.ISLAND)}"', _path(surface)),
        _group("edges", _stroke(look.SIDE, max(line // 2, 1)), _path(_lines(template.to_pixels(template.sides)))),
        _group("outlines", _stroke(look.OUTLINE, line), _path(_lines(template.to_pixels(template.outlines)))),
        *_safe_rectangles(template),
        _group("marks", _stroke(look.ARROW, 2 * line), *_arrows(template)),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _safe_rectangles(template: Template) -> list[str]:
    """One group, or nothing without any."""
    parts = []
    for corners in template.safe_corners():
        (left, top), (right, bottom) = corners.tolist()
        box = f'x="{_number(left)}" y="{_number(top)}" width="{_number(right - left)}" height="{_number(bottom - top)}"'
        text, scale = look.safe_label(corners, template)
        label = _label(text, (left + right) / 2, bottom - 4 * template.line, scale, "middle")
        parts += [f"<rect {box}/>", label]
    return [_group("safe", _stroke(look.SAFE, 2 * template.line), *parts)] if parts else []


def _arrows(template: Template) -> list[str]:
    drawn = [arrow_lines(arrow, template) for arrow in template.arrows]
    starts = [(strokes[0, 0] + 4 * template.line).tolist() for strokes in drawn]
    named = zip(template.arrows, starts, strict=True)
    labels = [
        _label(arrow.label, x, y + 8 * template.text_scale, template.text_scale, "start") for arrow, (x, y) in named
    ]
    return [_path(_lines(strokes)) for strokes in drawn] + labels


def _group(name: str, style: str, *content: str) -> str:
    return f'<g id="{name}" {style}>{"".join(content)}</g>'


def _label(text: str, x: float, y: float, scale: int, anchor: str) -> str:
    """scale: pixels to a dot of the font that `draw_template` writes with."""
    place = f'x="{_number(x)}" y="{_number(y)}" font-size="{8 * scale}" text-anchor="{anchor}"'
    return f'<text {place} font-family="sans-serif" fill="{_hex(look.ARROW)}" stroke="none">{_text(text)}</text>'


def _stroke(colour: Colour, width: int) -> str:
    return f'fill="none" stroke="{_hex(colour)}" stroke-width="{width}"'


def _path(data: str) -> str:
    return f'<path d="{data}"/>'


def _lines(ends: Floats) -> str:
    return "".join(
        f"M{_number(a)} {_number(b)}L{_number(c)} {_number(d)}" for a, b, c, d in ends.reshape(-1, 4).tolist()
    )


def _triangles(pixels: Floats) -> str:
    """Each triangle on its own, all in one direction: then the fill rule leaves no hole where some are mirrored."""
    turned = twice_areas(pixels) < 0.0
    pixels = np.where(turned[:, None, None], pixels[:, ::-1], pixels)
    corners = [[f"{_number(x)} {_number(y)}" for x, y in triangle] for triangle in pixels.tolist()]
    return "".join(f"M{a}L{b}L{c}Z" for a, b, c in corners)


def _number(value: float) -> str:
    """A thousandth of a pixel, without needless zeros."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _hex(colour: Colour) -> str:
    return "#" + "".join(f"{part:02x}" for part in colour)


def _text(text: str) -> str:
    return escape(safe(text))
