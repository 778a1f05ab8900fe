"""Change or watch thresholds while tests run, for `python -m tests.matrix.thresholds`."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from inspector.checks.base.registry import all_checks
from inspector.threshold import Threshold


def scaled(value: Any, factor: float) -> Any:
    """Multiply a number, the numbers of a tuple, or the values of a mapping. The result for an integer is rounded to an
    integer of at least 1."""
    if isinstance(value, Mapping):
        return {key: scaled(one, factor) for key, one in value.items()}
    if isinstance(value, tuple):
        return tuple(scaled(one, factor) for one in value)
    if isinstance(value, Fraction):
        return value * Fraction(factor)
    return max(1, round(value * factor)) if isinstance(value, int) else value * factor


def declared() -> list[tuple[Threshold[Any], list[str]]]:
    """Return every threshold that a check declares, with the ids of the checks that declare it.

    A name may occur repeatedly, because a check may have its own copy of a shared threshold.
    """
    found: dict[int, tuple[Threshold[Any], list[str]]] = {}
    for check in all_checks():
        for threshold in check.thresholds:
            found.setdefault(id(threshold), (threshold, []))[1].append(check.id)
    return list(found.values())


def change(threshold: Threshold[Any], factor: float) -> None:
    object.__setattr__(threshold, "value", scaled(threshold.value, factor))


def watch(read: set[str]) -> None:
    """From now on, add to `read` the name of each threshold whose value this process uses."""

    def value(threshold: Threshold[Any]) -> Any:
        read.add(threshold.name)
        return vars(threshold)["value"]

    def keep(threshold: Threshold[Any], value: Any) -> None:
        vars(threshold)["value"] = value

    Threshold.value = property(value, keep)  # type: ignore[misc, assignment]
