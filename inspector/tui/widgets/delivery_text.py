"""A delivery in words: the findings before and after, and the results of the verification."""

from __future__ import annotations

from collections.abc import Iterable

from inspector.checks.base.finding import Finding, Severity
from inspector.delivery.deliver import Delivery
from inspector.delivery.handoff import HANDOFF_NAME
from inspector.names import counted, safe
from inspector.report.plan_text import again_words
from inspector.sequence.discovery.frame_ranges import frame_ranges
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.tui.columns import title_of
from inspector.tui.styles import FAINT, GOOD_SIGN, PLAIN, STYLES, WORST_FIRST
from inspector.tui.widgets.card import Card


def delivery_card(delivery: Delivery) -> Card:
    """Make a card about a delivery: the number of findings before and after, the results of the verification, the paths
    of the folder, the hand-off note and the receipt, and the remaining errors and warnings."""
    card = Card()
    card.add(f"  {'':<12}{'before':>8}{'after':>8}", "", FAINT)
    for severity in WORST_FIRST:
        before, after = delivery.before.count(severity), delivery.after.count(severity)
        words = f"{severity.sign} {severity.word + 's':<12}{before:>8}{after:>8}"
        card.add(words, "", STYLES[severity] if after else PLAIN)
    card.add("", "")
    _proof(card, delivery)
    card.add("", "")
    card.add("folder:", safe(str(delivery.out)))
    card.add("hand-off note:", safe(str(delivery.out / HANDOFF_NAME)))
    card.add("receipt:", safe(str(delivery.out / RECEIPT_NAME)))
    findings = [finding for one in delivery.after.inspections for finding in one.findings]
    serious = [finding for finding in findings if finding.severity > Severity.NOTE]
    if serious:
        card.add("", "")
        card.add("remaining errors and warnings:", "")
        _findings(card, serious)
    return card


def delivery_title(delivery: Delivery) -> str:
    """Return a title that states whether the delivery was verified, and how many errors remain."""
    errors = delivery.after.count(Severity.ERROR)
    left = f"{counted(errors, 'error')} {'remains' if errors == 1 else 'remain'}" if errors else "no errors remain"
    return f"written {'and verified' if delivery.proof.clean else 'but not as planned'}; {left}"


def _proof(card: Card, delivery: Delivery) -> None:
    """Add the results of the verification to a card: `.` before each good result, `!` before each bad result."""
    proof = delivery.proof
    aimed = len(proof.gone) + len(proof.left)
    card.add(GOOD_SIGN, f"{counted(proof.files, 'file')} written and read back", hang=True)
    card.add(GOOD_SIGN, f"{counted(proof.blocks, 'untouched block')} identical byte for byte", hang=True)
    card.add(GOOD_SIGN, f"{counted(proof.sources, 'source file')} unchanged (checksums)", hang=True)
    fixed = f"{len(proof.gone):,} of {counted(aimed, 'targeted problem')} fixed"
    card.add("!" if proof.left else GOOD_SIGN, fixed)
    _findings(card, (finding for _, finding in proof.left))
    new = counted(len(proof.new), "new problem") if proof.new else "no new problems"
    card.add("!" if proof.new else GOOD_SIGN, new)
    _findings(card, (finding for _, finding in proof.new))
    card.add("!" if proof.second else GOOD_SIGN, again_words(proof))


def _findings(card: Card, findings: Iterable[Finding]) -> None:
    for finding in findings:
        frames = f"frame{'s' * (len(finding.frames) > 1)} {frame_ranges(finding.frames)}: " if finding.frames else ""
        words = f"{title_of(finding.check)}, {frames}{finding.message}"
        card.add("  " + finding.severity.sign, words, STYLES[finding.severity], hang=True)
