"""A pytest plugin that changes one threshold before any test runs: `MESHQC_CHANGED=NAME*FACTOR pytest -p ...`.

For `python -m tests.matrix.thresholds`, which looks for changes that no test notices.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from inspector import limits

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


def declared() -> Iterator[tuple[str, str, Any]]:
    """Every threshold that a check declares: its name (lower case, with hyphens), the check's id, and the threshold, or
    its value where it is a constant of limits.py."""
    from inspector.checks.base.registry import all_checks  # not before a constant was changed: defaults are bound then

    for check in all_checks():
        for threshold in check.thresholds:
            name = threshold if isinstance(threshold, str) else threshold.name
            of = getattr(limits, threshold) if isinstance(threshold, str) else threshold
            yield name.lower().replace("_", "-"), check.id, of


def change(name: str, factor: float) -> None:
    """Change a threshold for the rest of this process. Raises KeyError for one that no check declares."""
    constant = name.upper().replace("-", "_")
    found = hasattr(limits, constant)
    if found:
        setattr(limits, constant, scaled(getattr(limits, constant), factor))
    changed = []
    for known, _, threshold in declared():
        if known == name and hasattr(threshold, "why") and not any(one is threshold for one in changed):
            object.__setattr__(threshold, "value", scaled(threshold.value, factor))
            changed.append(threshold)
    if not found and not changed:
        raise KeyError(name)


if VARIABLE in os.environ:
    _name, _, _factor = os.environ[VARIABLE].partition("*")
    change(_name, float(_factor))
