"""What the user stated about a folder, as a plan and a receipt keep it. Never folders: no file may open one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from inspector.sequence.discovery.settings import Settings, fraction_of_json, frame_json


def statements_to_json(settings: Settings) -> dict[str, object]:
    """Range, size, reference and rate; null where nothing was stated."""
    return {
        "frames": None if settings.expected is None else [frame_json(number) for number in settings.expected],
        "size": settings.size,
        "reference": None if settings.reference is None else frame_json(settings.reference),
        "rate": None if settings.rate is None else str(settings.rate),
    }


def statements_from_json(given: object) -> Settings:
    """The other way. Raises ValueError, TypeError, KeyError, ZeroDivisionError."""
    if not isinstance(given, Mapping):
        raise TypeError("statements")
    expected, size = given["frames"], given["size"]
    settings = Settings(reference=_number(given["reference"]), rate=_number(given["rate"]))
    if expected is not None:
        first, last = (fraction_of_json(number) for number in expected)
        if first > last:
            raise ValueError("frames")
        settings = replace(settings, expected=(first, last))
    if size is not None:
        if not (math.isfinite(float(size)) and float(size) > 0):
            raise ValueError("size")
        settings = replace(settings, size=float(size))
    return settings


def with_statements(settings: Settings, kept: Settings) -> Settings:
    """`settings`, and what was kept where they state nothing."""
    return replace(
        settings,
        expected=settings.expected or kept.expected,
        size=settings.size or kept.size,
        reference=kept.reference if settings.reference is None else settings.reference,
        rate=settings.rate or kept.rate,
    )


def _number(given: object) -> Fraction | None:
    return None if given is None else fraction_of_json(given)
