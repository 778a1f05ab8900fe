"""Sequences that nobody here made, with what is true of them: neither they nor their names are in the project.

The environment variable MESHQC_REAL names their folder. In it, `expected.toml` has one table per sequence:

    [[sequence]]
    folder = "walk"           # below MESHQC_REAL
    pattern = "walk_####.obj" # where the folder has several sequences; the file's name with # for digits
    frames = 24               # how many; 0 where the files are no sequence
    vertices = [8000, 8000]   # fewest and most
    faces = [16000, 16000]
    motion = true             # false where the files are frames, but nothing moves from one to the next
    must = [{cause = "library missing", severity = "error", frames = [1, 2]}]
    may = [{cause = "wrong index", severity = "warning"}]
    missed = ["a dent of 10 %"]

`must` has to be said, on these frames and with that severity at least; `may` is true and allowed, up to that severity.
Any other error or warning is a false alarm. `missed` are the kinds of planted defects (tests/helpers/mutations.py) that
aren't answered rightly in this sequence; `python -m tests.real.defects` prints them. A cause is one of
tests/helpers/causes.py or the id of a check.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.helpers.causes import CAUSES

VARIABLE = "MESHQC_REAL"


@dataclass(frozen=True)
class Expectation:
    """One finding that must be there or may be.

    Attributes:
        cause: a cause of the table of causes, or the id of a check.
        severity: "warning" or "error".
        frames: numbers of its frames; None for any.
    """

    cause: str
    severity: str
    frames: frozenset[float] | None

    @property
    def checks(self) -> frozenset[str]:
        return CAUSES.get(self.cause, frozenset({self.cause}))


@dataclass(frozen=True)
class RealSequence:
    """A folder with frames and what is true of it; fields as in the file."""

    folder: Path
    pattern: str
    frames: int
    vertices: tuple[int, int]
    faces: tuple[int, int]
    motion: bool
    must: tuple[Expectation, ...]
    may: tuple[Expectation, ...]
    missed: frozenset[str]

    @property
    def name(self) -> str:
        return f"{self.folder.name} {self.pattern}".strip()


def real_folder() -> Path | None:
    """The folder that MESHQC_REAL names, or None."""
    named = os.environ.get(VARIABLE, "")
    return Path(named) if named and Path(named).is_dir() else None


def real_sequences() -> list[RealSequence]:
    """What expected.toml says; nothing where the folder isn't there."""
    root = real_folder()
    if root is None:
        return []
    with (root / "expected.toml").open("rb") as file:
        tables = tomllib.load(file)["sequence"]
    return [_sequence(root, table) for table in tables]


def _sequence(root: Path, table: dict[str, Any]) -> RealSequence:
    return RealSequence(
        root / table["folder"],
        table.get("pattern", ""),
        table["frames"],
        tuple(table.get("vertices", (0, 0))),
        tuple(table.get("faces", (0, 0))),
        table.get("motion", True),
        tuple(_expectation(one) for one in table.get("must", [])),
        tuple(_expectation(one) for one in table.get("may", [])),
        frozenset(table.get("missed", [])),
    )


def _expectation(one: dict[str, Any]) -> Expectation:
    frames: str | Sequence[float] = one.get("frames", "any")
    return Expectation(
        one["cause"],
        one["severity"],
        None if isinstance(frames, str) else frozenset(float(number) for number in frames),
    )
