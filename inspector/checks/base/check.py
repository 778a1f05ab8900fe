"""The definition of a check: a comparison without side effects, and a rationale in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum

from inspector.arrays import Indices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.threshold import Threshold

Elements = Callable[[Frame, Frame | None], Indices | None]
"""Function that finds the affected faces or vertices of a frame. It takes the frame and the reference frame (None if
there is no reference frame). It returns ascending zero-based indices, (k,), or None if the frames can't be compared.
"""


class NotApplicable(Exception):
    """Raised by a check that can't judge a sequence, with the reason for skipping the check as its message."""


@dataclass(frozen=True, slots=True)
class Rationale:
    """The explanation of a check, written for artists.

    Attributes:
        what: The problem, and why it matters.
        after_import: The visible consequence after the import.
        what_to_do: How to repair the problem.
    """

    what: str
    after_import: str
    what_to_do: str


class CheckScope(Enum):
    """The data that a check needs.

    Attributes:
        FILES: File names and frame numbers.
        FRAME: Some frames, each by itself or with the reference frame.
        SEQUENCE: All frames, in order.
    """

    FILES = "files"
    FRAME = "frame"
    SEQUENCE = "sequence"


@dataclass(frozen=True)
class Check:
    """A check: its description, the data that it needs, and the function that runs it.

    Attributes:
        id: Name of the check: a few plain words joined with hyphens.
        title: Short name for lists.
        severity: The highest severity of the findings.
        rationale: The explanation that `meshqc explain` shows.
        run: Function that yields the findings, without side effects. It may raise NotApplicable.
        fixes: Ids of the fixes for the findings.
        scope: The data that the check needs.
        thresholds: The limits that decide what is reported.
        needs: The kinds of content that the check judges. The check is skipped unless the format of every frame can
            contain all these kinds.
        explained_by: Ids of checks that run first. This check leaves out the frames that they report
            (`context.explained`).
        affected_faces: Function that finds all affected faces in a frame; None to use the locations of the finding.
        affected_vertices: Function that finds all affected vertices in a frame; None to use the locations.
    """

    id: str
    title: str
    severity: Severity
    rationale: Rationale
    run: Callable[[CheckContext], Iterator[Finding]]
    fixes: tuple[str, ...] = ()
    scope: CheckScope = CheckScope.FRAME
    thresholds: tuple[Threshold[object], ...] = ()
    needs: tuple[Trait, ...] = ()
    explained_by: tuple[str, ...] = ()
    affected_faces: Elements | None = None
    affected_vertices: Elements | None = None

    @property
    def settable_names(self) -> tuple[str, ...]:
        """Names of the thresholds that delivery rules can set."""
        return tuple(threshold.name for threshold in self.thresholds if threshold.settable)
