"""A pytest plugin that changes one threshold before any test runs: `MESHQC_CHANGED=NAME*FACTOR pytest -p ...`.

For `python -m tests.matrix.thresholds`, which looks for changes that no test notices.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from inspector.checks.base.registry import all_checks
from inspector.threshold import Threshold

VARIABLE = "MESHQC_CHANGED"


def scaled(value: Any, factor: float) -> Any:
    """The value times the factor: a number, a tuple of them, or the values of a mapping. Whole numbers stay whole and
    above 0."""
    if isinstance(value, Mapping):
        return {key: scaled(one, factor) for key, one in value.items()}
    if isinstance(value, tuple):
        return tuple(scaled(one, factor) for one in value)
    if isinstance(value, Fraction):
        return value * Fraction(factor)
    return max(1, round(value * factor)) if isinstance(value, int) else value * factor


def declared() -> Iterator[tuple[str, str, Threshold[Any]]]:
    """Every threshold that a check declares: its name, the id of the check, and the threshold."""
    for check in all_checks():
        for threshold in check.thresholds:
            yield threshold.name, check.id, threshold


def change(name: str, factor: float) -> None:
    """Change a threshold for the rest of this process. Raises KeyError for one that no check declares."""
    found = {id(threshold): threshold for known, _, threshold in declared() if known == name}
    if not found:
        raise KeyError(name)
    for threshold in found.values():
        object.__setattr__(threshold, "value", scaled(threshold.value, factor))


if VARIABLE in os.environ:
    _name, _, _factor = os.environ[VARIABLE].partition("*")
    change(_name, float(_factor))
