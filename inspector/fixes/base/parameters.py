"""Read the parameters of a fix: words from a command line, or values from a plan file."""

from __future__ import annotations

import math

from inspector.errors import Answer, Refusal
from inspector.fixes.base.fix import Parameters
from inspector.names import joined_words, safe


def number_of(parameters: Parameters, key: str) -> float | None:
    """Return the value of a parameter as a finite number; None if the parameter isn't given.

    Args:
        parameters: Values that the user gave.
        key: Name of the parameter.

    Raises:
        Refusal: The value is not a finite number.
    """
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
    """Return the parameter `aspect`, the width of a texture over its height; None if the parameter isn't given.

    Raises:
        Refusal: The value is not a number above 0.
    """
    aspect = number_of(parameters, "aspect")
    if aspect is not None and not aspect > 0.0:
        raise Refusal("aspect (width over height) must be above 0")
    return aspect


def typed(fix: str, *pairs: str) -> str:
    """Return the command-line options that give a fix its parameters, as text to follow "give", "use" or "with".

    Args:
        fix: Id of the fix.
        pairs: The alternatives. Each is one `key=value`, or several separated by commas.
    """
    return joined_words([f"`{option} {value}`" for option, value in answers(fix, *pairs)], "or")


def answers(fix: str, *pairs: str) -> tuple[Answer, ...]:
    """Return the options that give a fix its parameters, for `Refusal.answers`.

    Args:
        fix: Id of the fix.
        pairs: The alternatives, as in `typed`. `Refusal.answers` must not contain examples or placeholders.
    """
    return tuple(("--with", f"{fix}:{one}") for one in pairs)


def word_of(parameters: Parameters, key: str, allowed: tuple[str, ...]) -> str | None:
    """Return the value of a parameter that must be one of a few words; None if the parameter isn't given.

    Args:
        parameters: Values that the user gave.
        key: Name of the parameter.
        allowed: The allowed words.

    Raises:
        Refusal: The value is not one of these words.
    """
    if key not in parameters:
        return None
    word = str(parameters[key])
    if word not in allowed:
        raise Refusal(f"{key}={safe(word)} is not one of {', '.join(allowed)}")
    return word
