"""Cards, which consist of paragraphs. This module also makes the main screen's cards about a finding, a frame or a
folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rich.style import Style
from rich.text import Text

from inspector import limits
from inspector.checks.base.finding import Where
from inspector.checks.base.registry import check_by_id
from inspector.checks.base.runner import by_reason
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.preview import previewed
from inspector.inspection.inspection import FolderInspection
from inspector.names import counted, safe
from inspector.report.frame_rows import SequenceView
from inspector.report.text_style import TextStyle
from inspector.tui.staged_fixes import Offer
from inspector.tui.styles import FAINT, GOOD_SIGN, PLAIN, STRONG, STYLES

_LEFT_OUT = 20  # maximum number of files to name
_STATE = "state the frame range and the object's size, to find a wrong scale and missing frames at either end"
_ON_A_HEALTHY_SEQUENCE = (
    ("v", "view and play the frames"),
    ("t", "texture and lettering: sizes, a template to draw on, captions"),
    ("d", "curves of drift, size and movement"),
    ("c", "compare with another frame"),
    ("X", "compare with the previous export"),
)
"""Keys of the main screen and what they show, for a sequence in which nothing has to be fixed."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph of a card.

    Attributes:
        lead: The first words, which have their own style.
        words: The text.
        lead_style: Style of `lead`.
        style: Style of `words`.
        hang: Whether the lines after the first line are indented to the column where `words` starts in the first line.
    """

    lead: str
    words: str
    lead_style: Style = STRONG
    style: Style = PLAIN
    hang: bool = False


@dataclass
class Card:
    """The paragraphs of one page.

    Attributes:
        paragraphs: The paragraphs, in order.
    """

    paragraphs: list[Paragraph] = field(default_factory=list)

    def add(
        self, lead: str, words: str, lead_style: Style = STRONG, style: Style = PLAIN, *, hang: bool = False
    ) -> None:
        """Add a paragraph (see Paragraph). Unsafe characters in its text are escaped."""
        self.paragraphs.append(Paragraph(safe(lead), safe(words), lead_style, style, hang))

    def text(self, look: TextStyle) -> Text:
        """Return the text in the layout `look`, wrapped to its width."""
        text = Text()
        for paragraph in self.paragraphs:
            lead = look.plain(paragraph.lead) + (" " if paragraph.lead else "")
            if len(lead) > look.width // 2:  # padding after the lead would leave no space for words
                lead = lead.rstrip() + " "
            lines = look.wrap(paragraph.words, " " * len(lead), None if paragraph.hang else "")
            shown = lead.strip()  # blanks would show the background of a severity
            indent = lead[: len(lead) - len(lead.lstrip())]
            text.append(f"\n{indent}" if text else indent).append(shown, paragraph.lead_style)
            text.append(lines[0][len(indent + shown) :], paragraph.style)
            for line in lines[1:]:
                text.append("\n" + line, paragraph.style)
        return text


def finding_card(
    view: SequenceView, at: int, offers: Sequence[Offer], later: str = "", *, sources: bool = False
) -> Card:
    """Make a card about a finding: its message, numbered fixes, frames, locations and rationale.

    Args:
        view: The sequence.
        at: Index of the finding in the view.
        offers: The fixes for the finding.
        later: A clause that states when all checks will have run, such as `once the folder is checked`; empty if they
            have run.
        sources: Whether to name the check and the command that shows its sources.
    """
    finding = view.findings[at]
    card = Card()
    card.add(finding.severity.sign, finding.message, STYLES[finding.severity], hang=True)
    rationale = check_by_id(finding.check).rationale
    card.add("you would see:", rationale.after_import)
    if finding.reason:
        card.add("rule:", finding.reason)
    for number, offer in enumerate(offers, 1):
        _offer(card, number, offer)
    if not offers:
        card.add("fixes:", f"offered {later}" if finding.fixes else 'none; see "what to do" below')
    if finding.frames:
        many = len(finding.frames) > 1
        count = f" ({len(finding.frames):,})" if many else ""
        card.add("frames" if many else "frame", view.ranges(at) + count)
    for where in finding.where:
        card.add("at", place_text(where))
    if len(finding.where) == limits.PLACES_KEPT:
        card.add("", f"(at most {limits.PLACES_KEPT} locations are listed)", style=FAINT)
    card.add("what it is:", rationale.what)
    card.add("what to do:", rationale.what_to_do)
    if sources:
        card.add("check:", f"{finding.check} (meshqc explain {finding.check})")
    return card


def _offer(card: Card, number: int, offer: Offer) -> None:
    box = "[x]" if offer.staged else "[ ]"
    card.add(f"{number} {box}", f"{offer.fix.title} ({offer.fix.kind_text})", hang=True)
    if offer.refused is not None:
        card.add("     ", f"refused: {offer.refused}", hang=True)
    elif offer.step is not None:
        card.add("     ", offer.step.summary, hang=True)
        add_preview(card, offer.step, "     ")
    elif offer.staged:
        card.add("     ", "there is no plan yet")
    if offer.step is None and offer.fix.cost:
        card.add("     ", f"cost: {offer.fix.cost}", hang=True)


def add_preview(card: Card, step: AnyStep, indent: str) -> None:
    """Add the first changes of a step to a card, and the number of further changes."""
    changes, more = previewed(step)
    for change in changes:
        words = f"{change.label}: {change.before or 'none'} -> {change.after or 'left out'}"
        card.add(indent, words, style=FAINT, hang=True)
    if more:
        card.add(indent, more, style=FAINT)


def place_text(where: Where) -> str:
    """Describe a location in a file, as in `manta.0008.obj, line 1882, face 1`."""
    line = None if where.line is None else f"line {where.line}"
    return ", ".join(part for part in (where.file.display, line, where.element) if part)


def frame_card(view: SequenceView, later: str = "", *, full: bool = False) -> Card:
    """Make the card that is shown if no finding is about the frame under the cursor.

    Args:
        view: The sequence.
        later: A clause that states when all checks will have run, such as `once the folder is checked`; empty if they
            have run.
        full: Whether the card is a page of its own, which lists the skipped checks instead of stating their number.
    """
    card = Card()
    if view.inspection is None:
        card.add("", "not checked yet", style=FAINT)
        return card
    if later:
        card.add(GOOD_SIGN, "nothing found on this frame so far")
        card.add("later:", f"gaps, jumps and other problems of the whole sequence are reported {later}")
    elif view.findings:
        card.add(GOOD_SIGN, "nothing found on this frame")
    else:
        failed, settings = view.inspection.verdict.failed, view.inspection.context.settings
        stated = settings.expected is not None and settings.size is not None
        state = f"; {counted(len(failed), 'check')} failed" if failed else "; ready to deliver" if stated else ""
        card.add(GOOD_SIGN, f"no problems found{state}")
        if full:
            card.add("", "on the main screen:")
        if not stated:
            card.add("z", _STATE, hang=True)
        for key, words in _ON_A_HEALTHY_SEQUENCE:
            card.add(key, words, hang=True)
    if view.findings:
        card.add("n", "next problem")
    for check, error in view.inspection.verdict.failed:
        card.add("! failed", f"{check}: {error.strip().splitlines()[-1]}")
    skipped = by_reason(view.inspection.verdict.skipped)
    if skipped and not full:
        names = [check for checks in skipped.values() for check in checks]
        card.add("skipped:", f"{counted(len(names), 'check')} (enter: list with reasons)")
        return card
    for reason, checks in skipped.items():
        card.add("skipped:", f"{', '.join(checks)} ({reason})")
    return card


def waiting_card() -> Card:
    """Make the card to show while a watched export has not written a frame yet."""
    card = Card()
    card.add("", "Waiting for the first frame. A frame is counted when its file is complete.")
    card.add("", "")
    card.add("L", "stop watching, and check the folder")
    return card


def folder_card(inspection: FolderInspection) -> Card:
    """Make the card that is shown if the folder contains no sequence. It lists files that were left out, and useful
    keys."""
    card = Card()
    card.add("", "No numbered mesh files here. Frames need names such as manta.0001.obj.")
    for other in inspection.not_sequences:
        name = (
            other.pattern.display if other.folder.display == "." else f"{other.folder.display}/{other.pattern.display}"
        )
        card.add("left out:", f"{name}  {counted(other.count, 'file')}: {other.reason}", hang=True)
    for path, reason in inspection.discovery.left_out[:_LEFT_OUT]:
        card.add("left out:", f"{path.relative_to(inspection.root)}: {reason}", hang=True)
    card.add("", "")
    card.add("L", "wait for an export into this folder")
    card.add("o", "open another folder")
    card.add("r", "read the folder again")
    return card
