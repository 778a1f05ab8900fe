"""Thresholds as text and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from inspector.threshold import Threshold


def threshold_text(threshold: Threshold[object]) -> str:
    """`jump diagonals = 0.1 reference diagonals`, `unit factors = 10: 1.5, 2.54: 1.15`."""
    return f"{threshold.name.replace('-', ' ')} = {value_text(threshold.value)} {threshold.unit}".rstrip()


def value_text(value: object) -> str:
    """`0.1`, `0.7, 1.4`, `10: 1.5, 2.54: 1.15`."""
    if isinstance(value, Mapping):
        return ", ".join(f"{key:g}: {number:g}" for key, number in value.items())
    if isinstance(value, Iterable):
        return ", ".join(map(value_text, value))
    return f"{value:,}" if isinstance(value, int) else f"{value:g}" if isinstance(value, float) else str(value)


def value_json(value: object) -> object:
    """The value as JSON holds it; numbers by number become pairs."""
    if isinstance(value, Mapping):
        return [list(pair) for pair in value.items()]
    return list(value) if isinstance(value, tuple) else value
