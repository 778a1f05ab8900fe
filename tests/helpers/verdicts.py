"""Comparison of the findings of an inspection with the findings that it should have."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from inspector import inspect
from tests.helpers.bodies import Body, shot_of
from tests.helpers.causes import CAUSES
from tests.helpers.mutations import Mutant, Mutation
from tests.helpers.sequences import Files, write

_LOUD = ("warning", "error")


@dataclass(frozen=True)
class Said:
    """A finding that is an error or a warning. Each entry of `lines` is a file name and a line number."""

    check: str
    severity: str
    message: str
    frames: frozenset[float]
    lines: frozenset[tuple[str, int | None]]


def errors_and_warnings(files: Files, **settings: Any) -> tuple[Said, ...]:
    """Return the errors and warnings about a folder with these files.

    A failed check, and a folder without a sequence, count as errors.
    """
    with TemporaryDirectory() as folder:
        result = inspect(write(Path(folder), files), **settings)
    said = [
        Said(
            finding.check,
            finding.severity.word,
            finding.message,
            frozenset(map(float, finding.frames)),
            frozenset((where.file.text, where.line) for where in finding.where),
        )
        for inspection in result.inspections
        for finding in inspection.findings
        if finding.severity.word in _LOUD
    ]
    failed = [check for inspection in result.inspections for check in inspection.verdict.failed]
    none = [] if result.inspections else [Said("no sequence", "error", "no sequence", frozenset(), frozenset())]
    broken = [Said(f"{check} failed", "error", "failed", frozenset(), frozenset()) for check in failed]
    return (*said, *none, *broken)


class Outcome(Enum):
    """How the tool judged a defect.

    Attributes:
        FOUND: The right cause on the right frames, and nothing else.
        PLACE: The right cause, but on the wrong frames, on the wrong line, or with too low a severity.
        BESIDE: The right cause, and also a false finding.
        WRONG: A cause is missing, but something was reported.
        MISSED: Nothing was reported.
    """

    FOUND = "found"
    PLACE = "place"
    BESIDE = "beside"
    WRONG = "wrong"
    MISSED = "missed"


TODAY = Path(__file__).parents[1] / "matrix" / "not_right_today.toml"


@lru_cache
def not_right_today() -> dict[str, dict[str, dict[str, list[int]]]]:
    """Return the seeds of the cases that the tool doesn't judge correctly yet.

    The keys are "defects" or "healthy", then the defect or the form of the healthy shot, then the body.

    The cases are listed in not_right_today.toml, which `python -m tests.matrix.table --write` writes. The tests fail if
    a listed case is judged correctly, so that somebody removes the case.
    """
    with TODAY.open("rb") as file:
        table: dict[str, dict[str, dict[str, list[int]]]] = tomllib.load(file)
    return {"defects": {}, "healthy": {}} | table


@lru_cache(maxsize=64)
def healthy_checks(body: Body, seed: int) -> frozenset[str]:
    """Return the checks that report errors or warnings about the healthy body."""
    return frozenset(said.check for said in errors_and_warnings(shot_of(body, seed).files))


def verdict_on(mutation: Mutation, body: Body, seed: int) -> tuple[Outcome, tuple[Said, ...]]:
    """Plant a defect. Return the outcome and what was reported, without the false alarms about the healthy body."""
    mutant = mutation.mutant(shot_of(body, seed), seed)
    said = errors_and_warnings(mutant.files, **mutant.settings)
    accepted = frozenset[str]().union(*(CAUSES[cause] for cause in mutation.causes))
    own = tuple(one for one in said if one.check in accepted or one.check not in healthy_checks(body, seed))
    beside = [one for one in own if one.check not in accepted]
    named = [[one for one in own if one.check in CAUSES[cause]] for cause in mutation.causes]
    if not all(named):
        return (Outcome.WRONG if own else Outcome.MISSED), own
    if not all(_in_place(mutation, mutant, of_cause) for of_cause in named):
        return Outcome.PLACE, own
    return (Outcome.BESIDE if beside else Outcome.FOUND), own


def _in_place(mutation: Mutation, mutant: Mutant, said: Iterable[Said]) -> bool:
    """Return whether the findings of one cause are severe enough and name the right frames and the right line."""
    severe = [one for one in said if _LOUD.index(one.severity) >= _LOUD.index(mutation.level)]
    lines = {line for one in severe for _, line in one.lines}
    frames = frozenset[float]().union(*(one.frames for one in severe))
    if not severe or (mutant.line is not None and mutant.line not in lines):
        return False
    if not mutant.frames:
        return True
    hit = [number for number in mutant.frames if any(abs(number - frame) <= mutation.margin for frame in frames)]
    false = [frame for frame in frames if all(abs(number - frame) > mutation.margin for number in mutant.frames)]
    return len(hit) >= mutation.share * len(mutant.frames) and not false
