"""Sequences from outside the project, and what is true of them. Neither the sequences nor their names are in the
project.

The environment variable MESHQC_REAL names their folder. In it, `expected.toml` has one table per sequence:

    [[sequence]]
    folder = "walk"           # below MESHQC_REAL
    pattern = "walk_####.obj" # if the folder has several sequences; the file name, with # for the digits
    frames = 24               # number of frames; 0 if the files are not a sequence
    vertices = [8000, 8000]   # minimum and maximum
    faces = [16000, 16000]
    motion = true             # false if the files are frames, but nothing moves from one frame to the next
    must = [{cause = "library missing", severity = "error", frames = [1, 2]}]
    may = [{cause = "wrong index", severity = "warning"}]
    missed = ["a dent of 10 %"]

A finding in `must` has to be reported, on the stated frames and with at least the stated severity. A finding in `may`
may be reported, with at most the stated severity. Any other error or warning is a false alarm. `missed` contains the
kinds of planted defects (tests/helpers/mutations.py) that the tool doesn't judge correctly in this sequence; `python -m
tests.real.defects` prints them. A cause is a key of tests/helpers/causes.py or the id of a check.
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
    """A finding that must or may be reported.

    Attributes:
        cause: A key of the table of causes, or the id of a check.
        severity: "warning" or "error".
        frames: The frame numbers. None for any frames.
    """

    cause: str
    severity: str
    frames: frozenset[float] | None

    @property
    def checks(self) -> frozenset[str]:
        return CAUSES.get(self.cause, frozenset({self.cause}))


@dataclass(frozen=True)
class RealSequence:
    """A folder with a sequence, and what is true of the sequence. The fields are those of `expected.toml`."""

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
    """Return the folder that MESHQC_REAL names, or None if there is no such folder."""
    named = os.environ.get(VARIABLE, "")
    return Path(named) if named and Path(named).is_dir() else None


def real_sequences() -> list[RealSequence]:
    """Return the sequences in `expected.toml`; empty if MESHQC_REAL doesn't name a folder."""
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
