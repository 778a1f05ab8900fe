"""What is known and chosen while the program runs; the screens show it, the app changes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.finding import Finding
from inspector.delivery.plan import Plan
from inspector.inspection.inspection import FolderInspection
from inspector.report.frame_rows import Place, SequenceView
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.chunks import Span
from inspector.tui.link import Link
from inspector.tui.pictures.render_modes import Look
from inspector.tui.saved_state import Kept
from inspector.tui.staging import Choices, Offer, answered, offers
from inspector.tui.view_state import Sights
from inspector.tui.widgets.columns import Arrangement


@dataclass
class Session:
    """views: one a sequence. at: the one that is shown. chosen: place of the finding whose card is shown.

    choices: what the user wants; accepted: the last of them that a plan was made of. refused: fix id -> reason, for
    what was tried last. written: the plan that the corrected folder written_to was written from. on_screen: frames
    looked at. checking: all is read and the
    checks run. live: an export is watched; alarm: what is wrong with it, empty without anything. calm: nothing
    on the screen moves by itself. place: the frame under the cursor, on every screen. panel: what is plotted, a place
    in PANELS. look: of the viewer. left: what was kept of the last time. marks: by sequence the frame numbers that the
    user marked, in the order of marking. sights: by sequence how it was looked at. link: to the
    terminal.
    """

    root: Path
    settings: Settings
    views: tuple[SequenceView, ...] = ()
    inspection: FolderInspection | None = None
    at: int = 0
    chosen: int | None = None
    arrangement: Arrangement = field(default_factory=Arrangement)
    words: str = "reading"
    choices: Choices = ()
    accepted: Choices = ()
    plan: Plan | None = None
    refused: dict[str, str] = field(default_factory=dict)
    tried: str = ""
    written: Plan | None = None
    written_to: Path | None = None
    checking: bool = False
    live: bool = False
    alarm: str = ""
    calm: bool = False
    place: Place | None = None
    panel: int = 0
    look: Look = Look.SHADED
    left: Kept = field(default_factory=Kept)
    marks: dict[str, list[Fraction]] = field(default_factory=dict)
    sights: dict[str, Sights] = field(default_factory=dict)
    on_screen: Span | None = None
    link: Link = field(default_factory=Link)

    @property
    def view(self) -> SequenceView | None:
        return self.views[self.at] if self.at < len(self.views) else None

    @property
    def row(self) -> int | None:
        """Of the view that is shown: the frame under the cursor, if it has such a frame."""
        view = self.view
        return None if view is None or self.place is None else view.row_at(self.place)

    def stand_on(self, view: SequenceView, row: int) -> None:
        """Put the cursor on a row of a view of the sequence that is shown."""
        self.place = view.place_of(row)

    def marked(self, view: SequenceView) -> list[Fraction]:
        """Numbers of the marked frames, the last marked last."""
        return self.marks.get(view.sequence.key, [])

    def mark(self, view: SequenceView, row: int) -> bool:
        """Mark a frame, or take its mark away. Whether it is marked now."""
        marks, number = self.marks.setdefault(view.sequence.key, []), view.rows[row].number
        if number in marks:
            marks.remove(number)
            return False
        marks.append(number)
        return True

    def next_mark(self, view: SequenceView, row: int) -> int | None:
        """The row of the next marked frame behind a row, from the last one back to the first; None without any."""
        numbers = set(self.marked(view)) & view.rows_by_number.keys()
        rows = sorted(view.rows_by_number[number][0] for number in numbers)
        return next((one for one in rows if one > row), rows[0] if rows else None)

    def sights_of(self, view: SequenceView) -> Sights:
        return self.sights.setdefault(view.sequence.key, Sights())

    def take_up(self, kept: Kept) -> None:
        """Go on where somebody left; what was staged then is taken up once the folder is checked."""
        self.left, self.place, self.arrangement = kept, kept.place, kept.arrangement
        self.panel, self.look, self.marks = kept.panel, kept.look, dict(kept.marks)
        self.sights = dict(kept.sights)

    def kept(self) -> Kept:
        """What the next time goes on with. Before the folder is checked, what was staged the last time stays."""
        view = self.view
        sequence = self.left.sequence if view is None else view.sequence.key
        choices = self.left.choices if self.inspection is None else self.accepted if self.unwritten else ()
        seen = (self.place, self.arrangement, self.panel, self.look, self.marks, self.sights)
        return Kept(sequence, *seen, choices, self.settings)

    @property
    def finding(self) -> Finding | None:
        view = self.view
        return view.findings[self.chosen] if view is not None and self.chosen is not None else None

    @property
    def key(self) -> str | None:
        """Key of the sequence that is shown, once all of the folder is checked."""
        view = self.view
        return None if view is None or self.inspection is None else view.sequence.key

    @property
    def planning(self) -> bool:
        return self.choices != self.accepted

    @property
    def unwritten(self) -> bool:
        """Whether something is staged that was not written."""
        return bool(self.choices) and self.plan is not self.written

    def offers(self) -> list[Offer]:
        """What answers the chosen finding."""
        finding, key = self.finding, self.key
        if finding is None or key is None:
            return []
        plan = None if self.planning else self.plan
        return offers(finding, key, self.choices, plan, self.refused)

    def choose_for(self, row: int | None) -> None:
        """Keep the chosen finding where it touches a row of the view; else take that row's worst."""
        view = self.view
        here = view.on_row(row) if view is not None and row is not None else []
        if self.chosen not in here:
            self.chosen = here[0] if here else None

    def answered(self) -> frozenset[int]:
        """Places of the findings that the plan answers."""
        view, key = self.view, self.key
        return frozenset() if view is None or key is None else answered(view.findings, key, self.plan)

    @property
    def all_checks(self) -> str:
        """When there will be the verdict of all checks, and fixes; empty once there is."""
        if self.inspection is not None:
            return ""
        return "when the export is done and live is ended (l)" if self.live else "once all of the folder is checked"

    def take_views(self, views: Sequence[SequenceView]) -> None:
        """Exchange the views; the sequence that is shown stays, if it is still there, and so does its finding."""
        shown, finding = self.view, self.finding
        self.views = tuple(views)
        places = [at for at, view in enumerate(views) if shown is not None and view.sequence == shown.sequence]
        if shown is None:
            places = [at for at, view in enumerate(views) if view.sequence.key == self.left.sequence]
        self.at = places[0] if places else 0
        view = self.view
        self.chosen = view.findings.index(finding) if view and finding in view.findings else None
