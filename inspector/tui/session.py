"""The state of the running program. Screens show it, and the app changes it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.finding import Finding
from inspector.delivery.plan import Plan
from inspector.inspection.inspection import FolderInspection
from inspector.lettering.caption_file import Version
from inspector.report.frame_rows import Place, SequenceView
from inspector.sequence.discovery.settings import Settings, frame_text
from inspector.sequence.run.chunks import Span
from inspector.tui.columns import Arrangement
from inspector.tui.graphics import Graphics
from inspector.tui.link import Link
from inspector.tui.pictures.render_modes import Look
from inspector.tui.saved_state import SavedState
from inspector.tui.staged_fixes import Choices, Offer, answered, offers
from inspector.tui.view_state import Cameras


@dataclass
class Selection:
    """The positions of the cursors.

    Attributes:
        sequence: Index of the current sequence in the session's views.
        frame: Key of the frame under the cursor, the same on every screen; None until a frame is chosen.
        finding: Index of the chosen finding in the view's findings; None if no finding is chosen.
    """

    sequence: int = 0
    frame: Place | None = None
    finding: int | None = None


@dataclass
class ViewState:
    """The settings of the views. They are kept between runs.

    Attributes:
        arrangement: Filter and order of the frame table.
        panel: Index in PANELS of the plotted curves.
        look: The render mode of the viewer; None for the mode that suits the finding.
        marks: Key of a sequence -> its marked frame numbers, in the order of marking.
        cameras: Key of a sequence -> how its pictures are viewed.
    """

    arrangement: Arrangement = field(default_factory=Arrangement)
    panel: int = 0
    look: Look | None = None
    marks: dict[str, list[Fraction]] = field(default_factory=dict)
    cameras: dict[str, Cameras] = field(default_factory=dict)


@dataclass
class Staged:
    """The chosen fixes, and the plan made from them.

    Attributes:
        choices: The user's choices.
        accepted: The choices to which `plan` or `fault` belongs.
        plan: The plan made from `accepted`; None if there is none.
        fault: Why no plan could be made from `accepted`; empty if there is no fault. A refusal is not a fault.
        refused: Id of the fix that was added last -> why it was refused; empty if it was not refused.
        tried: Id of the fix that was added last.
        written: The plan of the last corrected folder; None if none was written.
        written_to: The last corrected folder; None if none was written.
        progress: Number of frames on which the new plan has been tested, and total number of frames; None until the
            first test.
    """

    choices: Choices = ()
    accepted: Choices = ()
    plan: Plan | None = None
    fault: str = ""
    refused: dict[str, str] = field(default_factory=dict)
    tried: str = ""
    written: Plan | None = None
    written_to: Path | None = None
    progress: tuple[int, int] | None = None

    @property
    def planning(self) -> bool:
        """Whether the plan for the choices is still being made."""
        return self.choices != self.accepted

    @property
    def unwritten(self) -> bool:
        """Whether the staged fixes still have to be written. Until the plan is made, no fix counts as written. False if
        the plan refused all fixes."""
        if not self.choices or self.planning or self.plan is None:
            return bool(self.choices)
        return bool(self.plan.steps) and not (self.written is not None and _same_plan(self.plan, self.written))


def _same_plan(plan: Plan, other: Plan) -> bool:
    """Return whether two plans are based on the same choices, settings and measured frames, and are thus the same.

    The measured frames are compared by identity, because reading the folder again makes new objects.
    """
    if plan.choices != other.choices or plan.inspection.settings != other.inspection.settings:
        return False
    return [id(one.inspection.series.facts) for one in plan.sequences] == [
        id(one.inspection.series.facts) for one in other.sequences
    ]


@dataclass
class Captions:
    """The caption versions of one sequence, either read from a file or typed.

    Attributes:
        versions: The versions, in order.
        at: Index of the current version.
        written: The versions that were read from a file, or last written to a file.
    """

    versions: tuple[Version, ...] = ()
    at: int = 0
    written: tuple[Version, ...] = ()

    @property
    def unwritten(self) -> bool:
        """Whether the versions differ from those that were read or last written."""
        return self.versions != self.written

    @property
    def version(self) -> Version | None:
        """The current version; None if there is none."""
        return self.versions[self.at] if self.at < len(self.versions) else None


@dataclass
class SessionStatus:
    """The work in progress, its progress text and its alarms.

    Attributes:
        text: Progress in parts, which are separated by two spaces. The most important part comes first. The text is
            empty if nothing is running.
        checking: Whether all frames have been read and the checks are running.
        live: Whether an export is being watched.
        alarms: Texts of the alarms of the watched export, the newest last.
    """

    text: str = "reading"
    checking: bool = False
    live: bool = False
    alarms: list[str] = field(default_factory=list)

    @property
    def alarm(self) -> str:
        """The newest alarm; empty if there is none."""
        return self.alarms[-1] if self.alarms else ""


@dataclass(frozen=True)
class Undo:
    """A step that can be undone.

    Attributes:
        name: Name of the step in messages.
        restore: Function that restores the state from before the step.
    """

    name: str
    restore: Callable[[], None]


@dataclass
class Session:
    """An open folder.

    Attributes:
        root: The folder.
        settings: The user's statements about the folder.
        calm: If true, nothing on the screen may move by itself.
        views: The views, one for each sequence.
        inspection: The inspection; None until everything is read and checked.
        selection: The positions of the cursors.
        view_state: The settings of the views.
        staged: The chosen fixes.
        captions: Key of a sequence -> its caption versions, once read.
        status: The work in progress.
        previous: The state that the previous run saved; empty once the fixes are restored after the checks.
        fresh: True until the cursor is moved. If this is still true after the checks, the cursor goes to the worst
            finding.
        stated: Whether a stated range or size is still to be checked. If so, the cursor goes to the worst finding after
            the checks, unless a finding of the frame under the cursor is chosen.
        search: The text that the keys `n` and `N` search for; empty if they go to problems instead.
        on_screen: The frames that the table shows, which are read first; None until the table shows a sequence.
        undo: Steps that can be undone, the newest last.
        link: The connection to the terminal.
        graphics: The terminal's answers about drawing pixels.
    """

    root: Path
    settings: Settings
    calm: bool = False
    views: tuple[SequenceView, ...] = ()
    inspection: FolderInspection | None = None
    selection: Selection = field(default_factory=Selection)
    view_state: ViewState = field(default_factory=ViewState)
    staged: Staged = field(default_factory=Staged)
    captions: dict[str, Captions] = field(default_factory=dict)
    status: SessionStatus = field(default_factory=SessionStatus)
    previous: SavedState = field(default_factory=SavedState)
    fresh: bool = True
    stated: bool = False
    search: str = ""
    on_screen: Span | None = None
    undo: list[Undo] = field(default_factory=list)
    link: Link = field(default_factory=Link)
    graphics: Graphics = field(default_factory=Graphics)

    @property
    def view(self) -> SequenceView | None:
        """The view of the current sequence; None if there are no views."""
        at = self.selection.sequence
        return self.views[at] if at < len(self.views) else None

    @property
    def row(self) -> int | None:
        """The row of the frame under the cursor in the current view; None if there is no such row."""
        view, frame = self.view, self.selection.frame
        return None if view is None or frame is None else view.row_at(frame)

    def select_row(self, view: SequenceView, row: int) -> None:
        """Put the cursor on a row of a view of the current sequence."""
        self.selection.frame = view.place_of(row)

    @property
    def finding(self) -> Finding | None:
        """The chosen finding; None if none is chosen."""
        view, at = self.view, self.selection.finding
        return view.findings[at] if view is not None and at is not None else None

    @property
    def key(self) -> str | None:
        """Key of the current sequence; None until the whole folder is checked, or if there is no sequence."""
        view = self.view
        return None if view is None or self.inspection is None else view.sequence.key

    def marked(self, view: SequenceView) -> list[Fraction]:
        """Return the frame numbers of a sequence's marked frames, in the order of marking."""
        return self.view_state.marks.get(view.sequence.key, [])

    def mark(self, view: SequenceView, row: int) -> bool:
        """Mark a frame, or remove its mark, and return whether the frame is marked now."""
        marks, number = self.view_state.marks.setdefault(view.sequence.key, []), view.rows[row].number
        before = list(marks)

        def restore() -> None:
            marks[:] = before

        action = "unmarking" if number in marks else "marking"
        self.undo.append(Undo(f"{action} of frame {frame_text(number)}", restore))
        if number in marks:
            marks.remove(number)
            return False
        marks.append(number)
        return True

    def next_mark(self, view: SequenceView, row: int) -> int | None:
        """Return the row of the next marked frame after a row; None if no frame is marked.

        After the last marked frame comes the first.
        """
        numbers = set(self.marked(view)) & view.rows_by_number.keys()
        rows = sorted(view.rows_by_number[number][0] for number in numbers)
        return next((marked for marked in rows if marked > row), rows[0] if rows else None)

    def arrange(self, arrangement: Arrangement) -> None:
        """Filter and sort the frame table. This can be undone."""
        before = self.view_state.arrangement
        if arrangement != before:

            def restore() -> None:
                self.view_state.arrangement = before

            self.undo.append(Undo(f"showing {arrangement.words}", restore))
            self.view_state.arrangement = arrangement

    def cameras_of(self, view: SequenceView) -> Cameras:
        """Return the settings for viewing the pictures of a sequence. The caller may change these settings."""
        return self.view_state.cameras.setdefault(view.sequence.key, Cameras())

    def take_up(self, saved: SavedState) -> None:
        """Continue from a saved state. Its staged fixes are restored once the folder is checked."""
        self.previous, self.selection.frame, self.fresh = saved, saved.frame, saved.frame is None
        self.view_state = ViewState(saved.arrangement, saved.panel, saved.look, dict(saved.marks), dict(saved.cameras))

    def saved(self) -> SavedState:
        """Return the state to save for the next run.

        Until the folder is checked, the fixes that the previous run had staged are kept. Fixes that have been written
        are not saved.
        """
        view, staged, shown = self.view, self.staged, self.view_state
        unwritten = staged.choices if staged.unwritten else ()
        return SavedState(
            self.previous.sequence if view is None else view.sequence.key,
            self.selection.frame,
            shown.arrangement,
            shown.panel,
            shown.look,
            shown.marks,
            shown.cameras,
            self.previous.choices or staged.choices if self.inspection is None else unwritten,
            self.settings.without_rules(),
        )

    def offers(self) -> list[Offer]:
        """Return the fixes for the chosen finding; empty if no finding is chosen or the folder has not been checked
        yet."""
        finding, key, staged = self.finding, self.key, self.staged
        if finding is None or key is None:
            return []
        return offers(finding, key, staged.choices, None if staged.planning else staged.plan, staged.refused)

    def answered(self) -> frozenset[int]:
        """Return the indices of the findings for which the plan has a step."""
        view, key = self.view, self.key
        return frozenset() if view is None or key is None else answered(view.findings, key, self.staged.plan)

    def choose_for(self, row: int | None) -> None:
        """Keep the chosen finding if the row has it. Otherwise choose the finding that is ranked first on the row, if
        any.

        If `row` is None, choose no finding.
        """
        view = self.view
        here = view.ranked_on_row(row) if view is not None and row is not None else []
        if self.selection.finding not in here:
            self.selection.finding = here[0] if here else None

    @property
    def all_checks(self) -> str:
        """A clause that states when all checks will have run and fixes will be offered; empty if fixes are offered
        now."""
        if self.inspection is not None:
            return ""
        return "when you stop watching the export (L)" if self.status.live else "once the folder is checked"

    @property
    def no_fixes(self) -> str:
        """Why nothing can be staged or written at the moment; empty if fixes can be staged and written."""
        return f"fixes are offered {self.all_checks}" if self.all_checks else ""

    def take_views(self, views: Sequence[SequenceView]) -> None:
        """Replace the views. The current sequence and its finding stay chosen, if they still exist.

        If there were no views before, the sequence that the previous run showed is chosen.
        """
        shown, finding = self.view, self.finding
        self.views = tuple(views)
        wanted = self.previous.sequence if shown is None else shown.sequence.key
        same = [at for at, view in enumerate(views) if view.sequence.key == wanted]
        at = same[0] if same else 0
        chosen = views[at].findings.index(finding) if views and finding in views[at].findings else None
        self.selection = replace(self.selection, sequence=at, finding=chosen)
