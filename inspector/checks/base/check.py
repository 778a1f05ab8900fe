"""What a check is: a small pure comparison with its rationale in plain words."""

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
"""A frame and the reference -> indices of faces or vertices from 0, ascending, (k,); None where the two can't be
compared."""


class NotApplicable(Exception):
    """Raised by a check that can't judge this sequence; the message is the reason shown as `skipped`."""


@dataclass(frozen=True, slots=True)
class Rationale:
    """For an artist: what it is, what they would see after the import, what to do."""

    what: str
    after_import: str
    what_to_do: str


class Scope(Enum):
    """FILES: judges names and numbers alone. FRAME: judges a frame by itself and the reference. SEQUENCE: needs all
    frames, in order."""

    FILES = "files"
    FRAME = "frame"
    SEQUENCE = "sequence"


@dataclass(frozen=True)
class Check:
    """id: short plain words with hyphens. severity: the worst it gives. fixes: ids of fixes that can answer it.
    thresholds: what decides what it reports, here or where its values are measured.
    Checks of files scope give a first verdict before any frame is read, those of frame scope on a few frames.

    needs: what a format must be able to carry to be judged; frames of other formats make the check not applicable.

    explained_by: ids of checks whose findings explain what this one would report of the same frames. The runner runs
    them first; frames that they report are in `context.explained`, and the check leaves them out.

    affected_faces, affected_vertices: how all elements that a finding is about are found in a frame, where its places
    are not enough.

    run yields findings (none: passed); it only compares what is measured or derived, and may raise NotApplicable.
    """

    id: str
    title: str
    severity: Severity
    rationale: Rationale
    run: Callable[[CheckContext], Iterator[Finding]]
    fixes: tuple[str, ...] = ()
    scope: Scope = Scope.FRAME
    thresholds: tuple[Threshold[object], ...] = ()
    needs: tuple[Trait, ...] = ()
    explained_by: tuple[str, ...] = ()
    affected_faces: Elements | None = None
    affected_vertices: Elements | None = None

    @property
    def settable_names(self) -> tuple[str, ...]:
        """Names of the thresholds that delivery rules can set."""
        return tuple(threshold.name for threshold in self.thresholds if threshold.settable)
