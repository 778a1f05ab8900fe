"""Draw the template as SVG 1.1 (W3C recommendation of 2011), for vector drawing programs."""

from __future__ import annotations

from html import escape

import numpy as np

from inspector.arrays import Floats
from inspector.names import safe
from inspector.picture import template as look
from inspector.picture.canvas import Colour
from inspector.picture.face_counts import twice_areas
from inspector.picture.template import Label, Template


def template_svg(template: Template) -> str:
    """Draw the template as SVG, with a group for each layer. One unit of the SVG is one pixel."""
    width, height, line = template.width, template.height, template.line
    surface = _triangles(template.to_pixels(template.triangles))
    bleed = f'stroke="{_hex(look.BLEED)}" stroke-width="{2 * template.bleed}" stroke-linejoin="round"'
    thin = f'stroke-width="{max(line / 2, 0.5):g}"'
    layers = {
        "bleed": _group("bleed", f'fill="{_hex(look.BLEED)}" {bleed}', _path(surface)),
        "surface": _group("surface", f'fill="{_hex(look.ISLAND)}"', _path(surface)),
        "edges": _group(
            "edges", f'fill="none" stroke="{_hex(look.SIDE)}" {thin}', _path(_lines(template.to_pixels(template.sides)))
        ),
        "outlines": _group(
            "outlines", _stroke(look.OUTLINE, line), _path(_lines(template.to_pixels(template.outlines)))
        ),
        "safe": _group("safe", _stroke(look.SAFE, 2 * line), *_safe_rectangles(template)),
        "margin": _group("margin", _stroke(look.MARGIN, line), *map(_rectangle, template.margins())),
        "marks": _group("marks", _stroke(look.MARK, line), _path(_lines(template.marks()))),
        "arrows": _group("arrows", _stroke(look.ARROW, 2 * line), *_arrows(template)),
        "title": _group("title", "", _label(look.title_label(template))),
    }
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}">'
    )
    paper = f'<rect id="paper" width="{width}" height="{height}" fill="{_hex(look.PAPER)}"/>'
    words = f"<title>{_text(template.title())}</title>"
    return "\n".join([head, words, paper, *(layers[name] for name in look.LAYERS), "</svg>"]) + "\n"


def _safe_rectangles(template: Template) -> list[str]:
    safe = [(_rectangle(one), _label(look.safe_label(one, template), look.SAFE)) for one in template.safe_corners()]
    return [part for parts in safe for part in parts]


def _rectangle(corners: Floats) -> str:
    (left, top), (right, bottom) = corners.tolist()
    box = f'x="{_number(left)}" y="{_number(top)}" width="{_number(right - left)}" height="{_number(bottom - top)}"'
    return f"<rect {box}/>"


def _arrows(template: Template) -> list[str]:
    strokes = [_path(_lines(look.arrow_lines(arrow, template))) for arrow in template.arrows]
    return strokes + [_label(look.arrow_label(arrow, template)) for arrow in template.arrows]


def _group(name: str, style: str, *content: str) -> str:
    return f'<g id="{name}" {style}>{"".join(content)}</g>'


def _label(label: Label, colour: Colour = look.ARROW) -> str:
    """Draw a line of text, stretched to the width of the label's box."""
    (left, top), (right, _) = label.box
    place = f'x="{left}" y="{top + label.size}" font-size="{label.size}"'
    place += f' textLength="{right - left}" lengthAdjust="spacingAndGlyphs"'
    return f'<text {place} font-family="sans-serif" fill="{_hex(colour)}" stroke="none">{_text(label.text)}</text>'


def _stroke(colour: Colour, width: int) -> str:
    return f'fill="none" stroke="{_hex(colour)}" stroke-width="{width}"'


def _path(data: str) -> str:
    return f'<path d="{data}"/>'


def _lines(ends: Floats) -> str:
    return "".join(
        f"M{_number(a)} {_number(b)}L{_number(c)} {_number(d)}" for a, b, c, d in ends.reshape(-1, 4).tolist()
    )


def _triangles(pixels: Floats) -> str:
    """Make a path of separate triangles. All run in the same direction, so that overlaps leave no hole."""
    turned = twice_areas(pixels) < 0.0
    pixels = np.where(turned[:, None, None], pixels[:, ::-1], pixels)
    corners = [[f"{_number(x)} {_number(y)}" for x, y in triangle] for triangle in pixels.tolist()]
    return "".join(f"M{a}L{b}L{c}Z" for a, b, c in corners)


def _number(value: float) -> str:
    """Format a number to a thousandth of a pixel, without trailing zeros."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _hex(colour: Colour) -> str:
    return "#" + "".join(f"{part:02x}" for part in colour)


def _text(text: str) -> str:
    return escape(safe(text), quote=False)
