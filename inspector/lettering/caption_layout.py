"""Place the lines of a caption version on the texture, rotated and mirrored so that they read correctly."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import NoReturn

import numpy as np

from inspector.arrays import Floats
from inspector.errors import Refusal
from inspector.lettering.caption_file import Version
from inspector.lettering.caption_font import EM, CaptionFont
from inspector.names import counted
from inspector.surface.lettering_box import Rectangle
from inspector.surface.text_direction import DIRECTION_SPREAD, UPRIGHT_DEGREES, Reading

_ROUNDING = 1e-6
"""Share by which text may be larger than its box and still fit, because rounding may cause such a difference.
Components of a direction that are smaller than this count as 0."""


@dataclass(frozen=True, eq=False)
class CaptionLayout:
    """The position of text in a box of the texture.

    A point of the text, x ems to the right and y ems up from its centre, is at middle + x * across + y * upward.

    Attributes:
        rectangle: The box, in UV.
        middle: Centre of the text, in UV, (2,).
        across: One em along a line of text, as a vector in UV, (2,).
        upward: One em up from a line of text, as a vector in UV, (2,).
        width: Width of the text, including its outline, ems.
        height: Height of the text, including its outline, ems.
    """

    rectangle: Rectangle
    middle: Floats
    across: Floats
    upward: Floats
    width: float
    height: float

    @property
    def ink_box(self) -> Rectangle:
        """The upright box around the text, in UV."""
        half = (np.abs(self.across) * self.width + np.abs(self.upward) * self.height) / 2.0
        (left, bottom), (right, top) = (self.middle - half).tolist(), (self.middle + half).tolist()
        return Rectangle(left, bottom, right, top)


def lay_out(
    version: Version,
    font: CaptionFont,
    rectangle: Rectangle,
    reading: Reading,
    aspect: float,
    base: tuple[int, int],
) -> CaptionLayout:
    """Set a version's lines in its box, at the stated height or as large as possible.

    Args:
        version: The version.
        font: Its font.
        rectangle: Its box, in UV.
        reading: How plain lettering would read on that part of the surface.
        aspect: Width over height of a texture that shows letters undistorted there.
        base: Width and height of the base map, in pixels, to which the stated height of letters refers.

    Raises:
        Refusal: The lines don't fit (the message says by how many pixels of the base map), or a letter has no glyph.
    """
    _has_all_letters(version, font)
    block = font.block(version.texts, version.align, version.outline_width if version.outline else 0.0)
    width, height = block.width / EM, block.height / EM
    right, up = directions(reading)
    box = np.array([rectangle.width * aspect, rectangle.height])
    per_em = width * np.abs(right) + height * np.abs(up)  # size of the text for an em of 1
    size = float((box / per_em).min())
    if version.height is not None:
        pixels = np.array(base) / (aspect, 1.0)  # pixels of the base map per unit of the undistorted texture
        stated = version.height / font.capital / float(np.linalg.norm(up * pixels))
        if stated > size * (1.0 + _ROUNDING):
            _refuse(stated * per_em * pixels, box * pixels, version.height * size / stated)
        size = stated
    slack = max(0.0, float(np.min((box - size * per_em)[np.abs(right) > _ROUNDING] / 2.0, initial=np.inf)))
    shift = {"left": -slack, "centre": 0.0, "right": slack}[version.align] if _is_straight(right) else 0.0
    squeeze = np.array([1.0 / aspect, 1.0])
    middle = np.array([rectangle.left + rectangle.right, rectangle.bottom + rectangle.top]) / 2.0
    return CaptionLayout(
        rectangle, middle + shift * right * squeeze, size * right * squeeze, size * up * squeeze, width, height
    )


def directions(reading: Reading) -> tuple[Floats, Floats]:
    """Find the directions in which text must be set on an undistorted texture to read correctly on the surface.

    Where plain lettering is rotated counter-clockwise by t on the surface, the surface's up is rotated clockwise by t
    from v. Where plain lettering is mirrored, left and right are swapped. An angle close to a multiple of 90 degrees is
    rounded to that multiple, so that text stays parallel to its box. If lettering has no single direction, text is not
    rotated.

    Args:
        reading: How plain lettering would read on the surface.

    Returns:
        Unit vectors to the right and up, each (2,).
    """
    turned = 0.0 if reading.spread > DIRECTION_SPREAD.value else reading.turned
    quarters = round(turned / 90.0) * 90.0
    angle = np.radians(quarters if abs(turned - quarters) <= UPRIGHT_DEGREES else turned)
    side = -1.0 if reading.reads_mirrored else 1.0
    right = np.array([side * np.cos(angle), -np.sin(angle)])
    up = np.array([side * np.sin(angle), np.cos(angle)])
    return np.round(right, 12), np.round(up, 12)


def _is_straight(right: Floats) -> bool:
    return bool(np.abs(right).min() < _ROUNDING)


def _has_all_letters(version: Version, font: CaptionFont) -> None:
    missing = font.missing("".join(version.texts))
    if missing:
        raise Refusal(f"{font.name} has no glyph for {', '.join(missing)}; choose another font")


def _refuse(needed: Floats, there: Floats, fitting: float) -> NoReturn:
    """Refuse text that doesn't fit.

    Args:
        needed: Width and height of the text, in pixels of the base map, (2,).
        there: Width and height of the box, in pixels of the base map, (2,).
        fitting: Height of capitals that would fit, in pixels of the base map.

    Raises:
        Refusal: Always.
    """
    over = {name: need - room for name, need, room in zip(("wide", "high"), needed, there, strict=True)}
    words = " and ".join(
        f"{counted(ceil(excess - _ROUNDING), 'pixel')} too {name}"
        for name, excess in over.items()
        if excess > _ROUNDING
    )
    sizes = [f"{side[0]:.0f} x {side[1]:.0f}" for side in (needed, there)]
    raise Refusal(
        f"{words}: the text needs {sizes[0]} pixels of the base map, but the box has {sizes[1]}; capitals "
        f"{np.floor(10 * fitting) / 10:g} pixels high would fit"
    )
