"""Every threshold as limits.py states it: name, value, and the reason that stands below it there."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from inspector import limits


@dataclass(frozen=True, slots=True)
class Threshold:
    """name: in limits.py. value: a number, several of them, or numbers by number. reason: with its unit."""

    name: str
    value: object
    reason: str

    @property
    def words(self) -> str:
        """The name as words."""
        return self.name.replace("_", " ").lower()

    @property
    def value_text(self) -> str:
        """`0.1`, `0.7, 1.4`, `10: 1.5, 2.54: 1.15`."""
        value = self.value
        if isinstance(value, Mapping):
            return ", ".join(f"{key:g}: {one:g}" for key, one in value.items())
        return ", ".join(_number(one) for one in value) if isinstance(value, Iterable) else _number(value)

    @property
    def plain(self) -> object:
        """The value as JSON has it; of numbers by number, pairs."""
        if isinstance(self.value, Mapping):
            return [list(pair) for pair in self.value.items()]
        return list(self.value) if isinstance(self.value, tuple) else self.value


def thresholds(names: Iterable[str]) -> Iterator[Threshold]:
    """Those of limits.py with these names. Raises KeyError for a name that isn't there or has no reason."""
    return (Threshold(name, vars(limits)[name], _reasons()[name]) for name in names)


@cache
def _reasons() -> dict[str, str]:
    """The text below each assignment of limits.py, on one line."""
    return {
        statement.targets[0].id: " ".join(text.value.value.split())
        for statement, text in pairwise(ast.parse(inspect.getsource(limits)).body)
        if isinstance(statement, ast.Assign)
        and isinstance(statement.targets[0], ast.Name)
        and isinstance(text, ast.Expr)
        and isinstance(text.value, ast.Constant)
        and isinstance(text.value.value, str)
    }


def _number(value: object) -> str:
    return f"{value:,}" if isinstance(value, int) else f"{value:g}" if isinstance(value, float) else str(value)
