"""Reading what the user gave to a fix: words from a command line or values from a plan file."""

from __future__ import annotations

import math

from inspector.errors import Refusal
from inspector.fixes.base.fix import Parameters
from inspector.names import safe


def number_of(parameters: Parameters, key: str) -> float | None:
    """The finite number under `key`, None where it isn't given. Raises Refusal for anything else."""
    if key not in parameters:
        return None
    try:
        value = float(str(parameters[key]))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise Refusal(f"{key}={safe(str(parameters[key]))} is not a number")
    return value


def aspect_of(parameters: Parameters) -> float | None:
    """The texture's width over its height under `aspect`, None where it isn't given. Raises Refusal unless above 0."""
    aspect = number_of(parameters, "aspect")
    if aspect is not None and not aspect > 0.0:
        raise Refusal("aspect is width over height, and must be above 0")
    return aspect


def word_of(parameters: Parameters, key: str, allowed: tuple[str, ...]) -> str | None:
    """One of the allowed words under `key`, None where it isn't given. Raises Refusal for anything else."""
    if key not in parameters:
        return None
    word = str(parameters[key])
    if word not in allowed:
        raise Refusal(f"{key}={safe(word)} is not one of {', '.join(allowed)}")
    return word
