"""Before and after: which findings are gone, which are left, which are new."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from inspector.checks.base.finding import Finding
from inspector.delivery.answers import all_choices, serious
from inspector.delivery.plan import make_plan
from inspector.delivery.types import Plan, SequencePlan
from inspector.delivery.write import frame_path
from inspector.inspection.inspection import FolderInspection, Inspection

Found = tuple[tuple[str, Finding], ...]


@dataclass(frozen=True)
class Comparison:
    """gone, left: errors and warnings that steps aimed at, by sequence key; new: those that were not there before."""

    gone: Found
    left: Found
    new: Found


@dataclass(frozen=True)
class _Pair:
    """A sequence's plan and what the delivered frames are found to be; number: after -> as in the source."""

    plan: SequencePlan
    after: tuple[Finding, ...]
    number: Mapping[Fraction, Fraction]
    inherited: Mapping[Fraction, frozenset[Fraction]]

    def in_source(self, finding: Finding) -> set[Fraction]:
        return {self.number.get(frame, frame) for frame in finding.frames}


def compare(plan: Plan, after: FolderInspection) -> Comparison:
    """Hold the findings of the delivered folder against the plan's."""
    gone: list[tuple[str, Finding]] = []
    left: list[tuple[str, Finding]] = []
    new: list[tuple[str, Finding]] = []
    for one in plan.sequences:
        pair = _pair(one, after)
        for finding in serious(one.inspection):
            steps = [step for step in one.steps if finding.check in step.answers and step.fix in finding.fixes]
            aimed = {frame for step in steps for frame in step.frames}
            if aimed & set(finding.frames):
                (left if _is_left(pair, finding, aimed) else gone).append((one.key, finding))
        new += [(one.key, finding) for finding in pair.after if _is_new(pair, finding)]
    return Comparison(tuple(gone), tuple(left), tuple(new))


def second_steps(plan: Plan, after: FolderInspection) -> int:
    """How many steps the same fixes would take once more where findings still call for them."""
    used = {step.fix for step in plan.steps}
    again = make_plan(after, [choice for choice in all_choices(after) if choice.fix in used])
    return len(again.steps)


def _pair(plan: SequencePlan, after: FolderInspection) -> _Pair:
    outputs = {frame_path(plan, output): output for output in plan.outputs}
    findings: list[Finding] = []
    number: dict[Fraction, Fraction] = {}
    facts = plan.inspection.series.facts
    for one in after.inspections:
        places = [_place(one, index) for index in range(len(one.series.facts))]
        own = [(index, outputs[place]) for index, place in enumerate(places) if place in outputs]
        number |= {one.series.facts[index].number: output.number for index, output in own}
        findings += serious(one) if own else ()
    inherited = {
        output.number: frozenset(facts[index].number for index in output.sources)
        for output in plan.outputs
        if output.made
    }
    return _Pair(plan, tuple(findings), number, inherited)


def _place(one: Inspection, index: int) -> str:
    return one.context.file_name(index).text.replace("\\", "/")


def _is_left(pair: _Pair, finding: Finding, aimed: set[Fraction]) -> bool:
    """A frame that was made anew may have what its neighbours have; what is left is left for its own sake."""
    wanted = aimed & set(finding.frames)
    return any(other.cause == finding.cause and pair.in_source(other) & wanted for other in pair.after)


def _is_new(pair: _Pair, finding: Finding) -> bool:
    """Whether some frame has it that had it not before; a made frame may have what those had that it comes from."""
    before = [one for one in serious(pair.plan.inspection) if one.cause == finding.cause]
    if not finding.frames:
        return not before
    known = {frame for one in before for frame in one.frames}
    fresh = pair.in_source(finding) - known
    return any(not pair.inherited.get(frame, frozenset()) & known for frame in fresh)
