"""Describe a plan and a delivery as text."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.finding import Severity
from inspector.delivery.choices import serious
from inspector.delivery.deliver import Delivery, Proof
from inspector.delivery.handoff import HANDOFF_NAME
from inspector.delivery.plan import Plan, SequencePlan
from inspector.fixes.base.fix import AnyStep, Change, FixKind
from inspector.fixes.base.preview import previewed
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import Inspection
from inspector.names import Name, counted
from inspector.report.text import finding_lines, sequence_title, verdict_text
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.frame_ranges import frames_words
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME


def plan_text(plan: Plan, style: TextStyle) -> str:
    """Describe a plan: the steps of each sequence, in order, with the first changed values, and the refused fixes."""
    lines: list[str] = []
    for one in plan.sequences:
        if one.steps or one.refused:
            lines += [*_sequence_plan(one, style), ""]
    return "\n".join([*lines, ""]) if lines else f"{nothing_words(plan)}\n"


def nothing_words(plan: Plan) -> str:
    """Explain why a plan has neither steps nor refusals."""
    found = [finding for one in plan.inspection.inspections for finding in serious(one)]
    kinds = {fix_by_id(fix).kind for finding in found for fix in finding.fixes}
    if not found:
        return "nothing to fix"
    if FixKind.LOSSLESS in kinds:
        return "the chosen fixes correct none of the findings in the folder"
    return f"there is no {'lossless ' if kinds else ''}fix for the findings in the folder"


def delivery_text(delivery: Delivery, style: TextStyle) -> str:
    """Describe a delivery: its path, the verification, the findings before and after, and the verdict."""
    proof = delivery.proof
    lines = style.wrap(str(Name.from_path(delivery.out)), "written to ")
    lines += style.wrap(proof_words(proof), "verified: ")
    lines += _before_and_after(delivery)
    for one in delivery.after.inspections:
        lines += _left(one, style)
    for _, finding in proof.new:
        lines += style.wrap(f"{finding.check}: {finding.message}", "new:   ")
    lines += style.wrap(f"{HANDOFF_NAME} is for the artist, {RECEIPT_NAME} for programs", "notes: ")
    lines += style.wrap(verdict_text(delivery.after), "verdict of the delivery: ")
    return "\n".join(lines) + "\n"


def proof_words(proof: Proof) -> str:
    """Describe the result of the verification of a delivery."""
    words = [f"{counted(proof.files, 'file')} written and read back"]
    if proof.blocks:  # files that were copied, or written in another format, have no block comparison
        words.append(f"{counted(proof.blocks, 'untouched block')} identical byte for byte")
    words.append(f"{counted(proof.sources, 'source file')} unchanged")
    words.append(again_words(proof))
    return "; ".join(words)


def again_words(proof: Proof) -> str:
    """State how many further steps the same plan would take on the corrected frames."""
    steps = f"would take {counted(proof.second, 'more step')}" if proof.second else "would change nothing"
    return f"running the plan again {steps}"


def step_title(step: AnyStep, one: Inspection) -> str:
    """Return the id of a step's fix, its kind (unless it is lossless) and the frames, as in `scale (one constant), all
    frames`."""
    fix = fix_by_id(step.fix)
    kind = "" if fix.kind is FixKind.LOSSLESS else f" ({fix.kind_text})"
    return f"{step.fix}{kind}{frames_words(step.frames, one.sequence)}"


def change_words(change: Change) -> str:
    """Format a value before and after a fix, as in `none -> 1 (0 0)`."""
    return f"{change.before or 'none'} -> {change.after or 'removed'}"


def _sequence_plan(plan: SequencePlan, style: TextStyle) -> Iterator[str]:
    sequence = plan.inspection.sequence
    yield style.strong(f"plan for {sequence_title(sequence)}")
    for number, step in enumerate(plan.steps, 1):
        yield from _step(number, step, plan.inspection, style)
    for refused in plan.refused:
        where = frames_words(refused.frames, sequence)
        yield from style.wrap(f"{refused.fix}{where}: {refused.reason}", "  refused: ", "    ")


def _step(number: int, step: AnyStep, one: Inspection, style: TextStyle) -> Iterator[str]:
    yield from style.wrap(step_title(step, one), f"{number:>3} ")
    yield from style.wrap(step.summary, "    ")
    changes, more = previewed(step)
    for change in changes:
        yield from style.wrap(f"{change.label}: {change_words(change)}", "      ", "        ")
    if more:
        yield f"      {more}"


def _before_and_after(delivery: Delivery) -> Iterator[str]:
    yield f"{'':10} {'before':>7} {'after':>7}"
    for severity in reversed(Severity):
        before, after = delivery.before.count(severity), delivery.after.count(severity)
        yield f"{severity.word + 's':10} {before:>7,} {after:>7,}"


def _left(one: Inspection, style: TextStyle) -> Iterator[str]:
    left = [finding for finding in one.findings if finding.severity > Severity.NOTE]
    if left:
        yield style.strong(f"remaining in {sequence_title(one.sequence)}")
    for finding in left:
        yield from finding_lines(finding, one, style, with_advice=False)
