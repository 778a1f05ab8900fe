"""The definition of a check: a small comparison without side effects, with its rationale in plain words."""

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
"""Finds faces or vertices of a frame, given the frame and the reference frame (None if there is none). Returns their
indices from 0, ascending, (k,); None if the two frames can't be compared."""


class NotApplicable(Exception):
    """A check can't judge this sequence. The message is the reason that is shown for a skipped check."""


@dataclass(frozen=True, slots=True)
class Rationale:
    """The explanation of a finding for an artist.

    Attributes:
        what: The fault that the check looks for, and why the fault matters.
        after_import: The visible consequence after the import.
        what_to_do: How to repair the fault.
    """

    what: str
    after_import: str
    what_to_do: str


class CheckScope(Enum):
    """The data that must be known before a check can judge.

    Attributes:
        FILES: File names and frame numbers; no frame needs to be read.
        FRAME: Some frames. Each is judged by itself or compared with the reference.
        SEQUENCE: All frames, in order.
    """

    FILES = "files"
    FRAME = "frame"
    SEQUENCE = "sequence"


@dataclass(frozen=True)
class Check:
    """A check: its name, its requirements, and the function that compares.

    Attributes:
        id: The check's name: a few plain words joined with hyphens.
        title: A short name for lists.
        severity: The worst severity that its findings can have.
        rationale: The explanation that `meshqc explain` shows.
        run: Yields findings, none if the sequence passes. It only compares measured or derived values, and may raise
            NotApplicable.
        fixes: Ids of the fixes for its findings.
        scope: The data that must be known before it can judge. A FILES check gives a first verdict before any frame is
            read, a FRAME check after a few frames.
        thresholds: The limits that decide what it reports, defined in its module or where the values are measured.
        needs: The kinds of content that it judges. It is skipped if the format of any frame can't carry one of them.
        explained_by: Ids of checks whose findings explain what this check would report about the same frames. The
            runner runs them first; the frames that they report are in `context.explained`, and this check leaves them
            out.
        affected_faces: Finds all faces that its findings are about in one frame, because a finding lists only the first
            few; None if it has no such function.
        affected_vertices: Finds all vertices that its findings are about in one frame; None if it has no such function.
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
