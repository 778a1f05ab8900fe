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
"""Tolerance for rounding errors. Text is too large only if its size is more than this fraction above the largest size
that fits. A message reports that text is too wide or too high only if the excess is more than this number of
pixels. A component of a unit vector counts as 0 if its absolute value is smaller than this.
"""


@dataclass(frozen=True, eq=False)
class CaptionLayout:
    """The position of text in a box of the texture.

    A point that is x ems to the right of the text's centre and y ems above it is at middle + x * across + y * upward.

    Attributes:
        rectangle: The lettering box, in UV.
        middle: Centre of the text, in UV, (2,).
        across: One em along a line of text, as a vector in UV, (2,).
        upward: One em up from a line of text, as a vector in UV, (2,).
        width: Width of the text, including its outline, in ems.
        height: Height of the text, including its outline, in ems.
    """

    rectangle: Rectangle
    middle: Floats
    across: Floats
    upward: Floats
    width: float
    height: float

    @property
    def ink_box(self) -> Rectangle:
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
    """Lay out the lines of a version in its lettering box, at the stated height or as large as possible.

    Args:
        version: The caption version.
        font: The font of the version.
        rectangle: The lettering box, in UV.
        reading: How lettering that is upright in the texture reads on the surface, in the lettering box.
        aspect: Width over height that a texture must have so that it is not distorted in the lettering box.
        base: Width and height of the base map, in pixels. The stated height of capitals is in the same pixels.

    Raises:
        Refusal: A letter has no glyph, or the lines are too large for the box; the message then gives the excess in
            pixels of the base map.
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
    """Find the directions in which text on an undistorted texture reads correctly on the surface.

    Text is rotated to cancel out the angle at which upright lettering appears on the surface, and left and right are
    swapped if such lettering appears mirrored. An angle close to a multiple of 90 degrees is rounded to this multiple.
    If the surface has no single direction of lettering, text is not rotated.

    Args:
        reading: How lettering that is upright in the texture reads on the surface.

    Returns:
        Unit vectors along a line of text and up from the line, (2,) each.
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
    """Refuse text that is too large for its box. Sizes are in pixels of the base map.

    Args:
        needed: Width and height of the text, (2,).
        there: Width and height of the box, (2,).
        fitting: Height of capitals at which the text would fit.

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
        f"the text is {words} (it needs {sizes[0]} pixels of the base map, and the box has {sizes[1]}); capitals "
        f"{np.floor(10 * fitting) / 10:g} pixels high would fit"
    )
