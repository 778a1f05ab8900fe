"""A finding in words: what it is, where, what answers it, why it matters."""

from __future__ import annotations

from collections.abc import Sequence

from rich.style import Style
from rich.text import Text

from inspector.checks.base.finding import Where
from inspector.checks.base.registry import check_by_id
from inspector.fixes.base.fix import Change
from inspector.tui.glyphs import Glyphs
from inspector.tui.staging import Offer
from inspector.tui.styles import FAINT, SIGNS, STRONG, STYLES
from inspector.tui.view import SequenceView


class Card:
    """Text of one page, put together line by line; every word passes through `glyphs`."""

    def __init__(self, glyphs: Glyphs) -> None:
        self._glyphs = glyphs
        self.text = Text()

    def line(self, words: str, style: Style | str = "", lead: str = "", lead_style: Style | str = STRONG) -> Card:
        """A line (or paragraph) with a lead in front of it."""
        if self.text:
            self.text.append("\n")
        if lead:
            self.text.append(self._glyphs.text(lead) + " ", lead_style)
        self.text.append(self._glyphs.text(words), style)
        return self


def finding_card(view: SequenceView, at: int, offers: Sequence[Offer], glyphs: Glyphs) -> Text:
    """The finding at a place of the view: message, fixes with their numbers, places, rationale."""
    finding = view.findings[at]
    card = Card(glyphs)
    card.line(finding.message, lead=SIGNS[finding.severity], lead_style=STYLES[finding.severity])
    for number, offer in enumerate(offers, 1):
        _offer(card, number, offer)
    if not offers:
        card.line("none here: see what to do", lead="fixes", style=FAINT)
    if finding.frames:
        many = len(finding.frames) > 1
        count = f" ({len(finding.frames):,})" if many else ""
        card.line(view.ranges(at) + count, lead="frames" if many else "frame")
    for where in finding.where:
        card.line(place_text(where), lead="at")
    check = check_by_id(finding.check)
    card.line(check.rationale.what, lead="what it is:")
    card.line(check.rationale.after_import, lead="after the import:")
    card.line(check.rationale.what_to_do, lead="what to do:")
    return card.text


def _offer(card: Card, number: int, offer: Offer) -> None:
    box = "[x]" if offer.staged else "[ ]"
    card.line(f"{box} {offer.fix.title} ({offer.fix.kind.value})", lead=str(number))
    if offer.refused is not None:
        card.line(f"refused: {offer.refused}", lead="     ")
    elif offer.step is not None:
        card.line(offer.step.summary, lead="     ")
        for change in offer.step.preview:
            card.line(change_text(change), FAINT, lead="     ")
    elif offer.staged:
        card.line("being worked out", FAINT, lead="     ")


def place_text(where: Where) -> str:
    """manta.0008.obj, line 1882, face 1"""
    line = None if where.line is None else f"line {where.line}"
    return ", ".join(part for part in (where.file.display, line, where.element) if part)


def change_text(change: Change) -> str:
    return f"{change.label}: {change.before or '(nothing)'} -> {change.after or '(nothing)'}"


def frame_card(view: SequenceView, row: int | None, glyphs: Glyphs) -> Text:
    """What to say where no finding touches the frame under the cursor."""
    card = Card(glyphs)
    if view.inspection is None:
        return card.line("not checked yet", FAINT).text
    if not view.findings:
        card.line("nothing found in this sequence; it can go on as it is", lead=".")
    elif row is not None:
        card.line("nothing found on this frame", lead=".")
        card.line("next problem", lead="n")
    for check, error in view.inspection.verdict.failed:
        card.line(f"{check}: {error.strip().splitlines()[-1]}", lead="! failed")
    for check, reason in view.inspection.verdict.skipped:
        card.line(f"{check}: {reason}", FAINT, lead="not checked")
    return card.text
