"""Before and after: what a delivery proved, in words."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from inspector.checks.base.finding import Finding, Severity
from inspector.delivery.deliver import Delivery
from inspector.report.frame_ranges import frame_ranges
from inspector.sequence.receipts import RECEIPT_NAME
from inspector.tui.card import Card
from inspector.tui.columns import title_of
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import GOOD_SIGN, NOUNS, SIGNS, STYLES, WORST_FIRST, counted


def delivery_text(delivery: Delivery, glyphs: Glyphs) -> Text:
    """Counts before and after, the lines of the proof, what is left, and where everything is."""
    proof = delivery.proof
    card = Card(glyphs).line(f"{'':<14}{'before':>8}{'after':>8}")
    for severity in WORST_FIRST:
        before, after = delivery.before.count(severity), delivery.after.count(severity)
        words = f"{SIGNS[severity]} {NOUNS[severity][1]:<12}{before:>8}{after:>8}"
        card.line(words, STYLES[severity] if after else "")
    card.line("")
    _proven(card, f"{counted(proof.files, ('file', 'files'))} written and read back", True)
    _proven(card, f"{counted(proof.blocks, ('untouched block', 'untouched blocks'))} equal byte for byte", True)
    _proven(card, f"{counted(proof.sources, ('source file', 'source files'))} as before, by digest", True)
    _proven(card, f"{counted(len(proof.gone), ('finding', 'findings'))} aimed at and gone", True)
    _findings(card, "aimed at and still there", proof.left)
    _findings(card, "new", proof.new)
    _proven(card, f"a second plan would have {counted(proof.second, ('step', 'steps'))}", not proof.second)
    card.line("")
    card.line(str(delivery.out), lead="folder:")
    card.line(str(delivery.out / RECEIPT_NAME), lead="receipt:")
    _rest(card, [finding for one in delivery.after.inspections for finding in one.findings])
    return card.text


def _proven(card: Card, words: str, good: bool) -> None:
    card.line(words, lead=GOOD_SIGN if good else "!")


def _findings(card: Card, words: str, findings: Sequence[tuple[str, Finding]]) -> None:
    _proven(card, f"{counted(len(findings), ('finding', 'findings'))} {words}", not findings)
    for _, finding in findings:
        _finding(card, finding)


def _finding(card: Card, finding: Finding) -> None:
    frames = frame_ranges(finding.frames)
    where = f" (frames {frames})" if frames else ""
    card.line(f"{title_of(finding.check)}: {finding.message}{where}", lead="    " + SIGNS[finding.severity])


def _rest(card: Card, left: Sequence[Finding]) -> None:
    serious = [finding for finding in left if finding.severity > Severity.INFO]
    if serious:
        card.line("")
        card.line("", lead="left in the corrected folder:")
        for finding in serious:
            _finding(card, finding)
