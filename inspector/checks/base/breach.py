"""A demand of the delivery rules that isn't met."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Where


@dataclass(frozen=True, slots=True)
class Breach:
    """A demand that isn't met: in plain words, at which indices, where, and the number that shows it."""

    message: str
    indices: list[int]
    found: float | str
    where: tuple[Where, ...] = ()
    fixes: tuple[str, ...] = ()


Judge = Callable[[CheckContext, Any], Iterator[Breach]]
"""Compares a sequence with the value that its key of rules/keys.py has."""
