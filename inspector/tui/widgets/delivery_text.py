"""Before and after: what a delivery proved, in words."""

from __future__ import annotations

from collections.abc import Iterable

from inspector.checks.base.finding import Finding, Severity
from inspector.delivery.deliver import Delivery
from inspector.delivery.handoff import HANDOFF_NAME
from inspector.names import safe
from inspector.sequence.discovery.frame_ranges import frame_ranges
from inspector.sequence.discovery.receipt_marks import RECEIPT_NAME
from inspector.tui.styles import FAINT, GOOD_SIGN, NOUNS, PLAIN, STYLES, WORST_FIRST, counted
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.columns import title_of


def delivery_card(delivery: Delivery) -> Card:
    """Counts before and after, the lines of the proof, what is left, and where everything is."""
    card = Card()
    card.add(f"  {'':<12}{'before':>8}{'after':>8}", "", FAINT)
    for severity in WORST_FIRST:
        before, after = delivery.before.count(severity), delivery.after.count(severity)
        words = f"{severity.sign} {NOUNS[severity][1]:<12}{before:>8}{after:>8}"
        card.add(words, "", STYLES[severity] if after else PLAIN)
    card.add("", "")
    _proof(card, delivery)
    card.add("", "")
    card.add("folder:", safe(str(delivery.out)))
    card.add("note for the artist:", safe(str(delivery.out / HANDOFF_NAME)))
    card.add("receipt:", safe(str(delivery.out / RECEIPT_NAME)))
    findings = [finding for one in delivery.after.inspections for finding in one.findings]
    serious = [finding for finding in findings if finding.severity > Severity.NOTE]
    if serious:
        card.add("", "")
        card.add("left in the corrected folder:", "")
        _findings(card, serious)
    return card


def _proof(card: Card, delivery: Delivery) -> None:
    """`.` before what is as it should be, `!` before what is not."""
    proof = delivery.proof
    card.add(GOOD_SIGN, f"{counted(proof.files, ('file', 'files'))} written and read back")
    card.add(GOOD_SIGN, f"{counted(proof.blocks, ('untouched block', 'untouched blocks'))} equal byte for byte")
    card.add(GOOD_SIGN, f"{counted(proof.sources, ('source file', 'source files'))} as before, by digest")
    card.add(GOOD_SIGN, f"{counted(len(proof.gone), ('finding', 'findings'))} aimed at and gone")
    for words, findings in (("aimed at and still there", proof.left), ("not there before", proof.new)):
        card.add("!" if findings else GOOD_SIGN, f"{counted(len(findings), ('finding', 'findings'))} {words}")
        _findings(card, (finding for _, finding in findings))
    steps = counted(proof.second, ("step", "steps"))
    card.add("!" if proof.second else GOOD_SIGN, f"a second plan would have {steps}")


def _findings(card: Card, findings: Iterable[Finding]) -> None:
    for finding in findings:
        frames = f"frame{'s' * (len(finding.frames) > 1)} {frame_ranges(finding.frames)}: " if finding.frames else ""
        words = f"{title_of(finding.check)}, {frames}{finding.message}"
        card.add("  " + finding.severity.sign, words, STYLES[finding.severity], hang=True)
