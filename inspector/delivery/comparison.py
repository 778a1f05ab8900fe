"""The findings of a folder held against those of its corrected copy."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import check_by_id
from inspector.delivery.choices import serious
from inspector.delivery.plan import Plan, SequencePlan, frame_path
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.measure.facts import FrameFacts

Found = tuple[tuple[str, Finding], ...]


@dataclass(frozen=True)
class Comparison:
    """gone, left: errors and warnings that steps aimed at, by sequence key; new: those that were not there before."""

    gone: Found
    left: Found
    new: Found


@dataclass(frozen=True)
class _Pair:
    """A sequence's plan and what the delivered frames are found to be; number: after -> as in the source; facts: of
    the delivered frames, by their numbers in the source."""

    plan: SequencePlan
    after: tuple[Finding, ...]
    number: Mapping[Fraction, Fraction]
    facts: Mapping[Fraction, FrameFacts]
    inherited: Mapping[Fraction, frozenset[Fraction]]

    def origins(self, frame: Fraction) -> set[Fraction]:
        """The frames that a changed one was made from or made like."""
        series = self.plan.inspection.series
        like = set() if series.reference_index is None else {series.reference_facts.number}
        return like | self.inherited.get(frame, frozenset())

    def in_source(self, finding: Finding) -> set[Fraction]:
        return {self.number.get(frame, frame) for frame in finding.frames}


@dataclass(frozen=True, slots=True)
class Harm:
    """What a plan makes worse.

    Attributes:
        key: Of the sequence.
        cause: Tells it from other harm to the sequence.
        words: What it is, for the reason of a refusal.
        frames: Numbers, as in the source, of the frames that have it; none where some of them are as they were.
    """

    key: str
    cause: tuple[str, object]
    words: str
    frames: frozenset[Fraction]


_TRAITS: Mapping[str, Callable[[FrameFacts], bool]] = {
    "UVs": lambda facts: not facts.faces_without_uvs,
    "normals": lambda facts: not facts.faces_without_normals,
    "material": lambda facts: facts.problem("face-without-material") is None,
}
"""What all frames of a sequence have, or none."""


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


def harms(plan: Plan, after: FolderInspection) -> list[Harm]:
    """What the plan makes worse: errors and warnings that were not there, and traits that only some frames have now."""
    found = []
    for one in plan.sequences:
        pair = _pair(one, after)
        touched = {frame for step in one.steps for frame in step.frames}
        for finding in pair.after:
            if _is_new(pair, finding):
                article = "an" if finding.severity is Severity.ERROR else "a"
                words = f"it would add {article} {finding.severity.word}, {finding.check}: {finding.message}"
                frames = frozenset(pair.in_source(finding))
                found.append(Harm(one.key, finding.cause, words, frames if frames <= touched else frozenset()))
        found += _mixed(pair)
    return found


def _mixed(pair: _Pair) -> Iterator[Harm]:
    before = [facts for facts in pair.plan.inspection.series.facts if facts.readable and facts.faces]
    left = {number: facts for number, facts in pair.facts.items() if facts.readable and facts.faces}
    for trait, has in _TRAITS.items():
        lacking = {number for number, facts in left.items() if not has(facts)}
        if len({has(facts) for facts in before}) == 1 and 0 < len(lacking) < len(left):
            words = f"{numbers_text(lacking)} would have no {trait}, unlike the other frames"
            yield Harm(pair.plan.key, ("mixed", trait), words, frozenset())


def _pair(plan: SequencePlan, after: FolderInspection) -> _Pair:
    outputs = {frame_path(plan, output): output for output in plan.outputs}
    findings: list[Finding] = []
    number: dict[Fraction, Fraction] = {}
    left: dict[Fraction, FrameFacts] = {}
    facts = plan.inspection.series.facts
    for one in after.inspections:
        places = [_place(one, index) for index in range(len(one.series.facts))]
        own = [(index, outputs[place]) for index, place in enumerate(places) if place in outputs]
        number |= {one.series.facts[index].number: output.number for index, output in own}
        left |= {output.number: one.series.facts[index] for index, output in own}
        findings += serious(one) if own else ()
    inherited = {
        output.number: frozenset(facts[index].number for index in output.sources)
        for output in plan.outputs
        if output.made
    }
    return _Pair(plan, tuple(findings), number, left, inherited)


def _place(one: Inspection, index: int) -> str:
    return one.context.file_name(index).text.replace("\\", "/")


def _is_left(pair: _Pair, finding: Finding, aimed: set[Fraction]) -> bool:
    """A frame that was made anew may have what its neighbours have; what is left is left for its own sake."""
    wanted = aimed & set(finding.frames)
    return any(other.cause == finding.cause and pair.in_source(other) & wanted for other in pair.after)


def _is_new(pair: _Pair, finding: Finding) -> bool:
    """Whether some frame has it that did not have it before, or not as severely.

    A made frame may have what its sources had, and a repaired one what the reference had, because it was made like it.
    Where the finding was there before, a frame that no step touched doesn't make it new: what counts as ordinary is
    decided over all frames. The same holds of a note on such frames that is more severe now: the broken frames around
    them are whole, so that more is known; and of a finding that was there all along behind one that explains it.
    """
    before = [
        one for one in serious(pair.plan.inspection) if one.cause == finding.cause and one.severity >= finding.severity
    ]
    if not finding.frames:
        return not before
    frames = pair.in_source(finding)
    touched = {frame for step in pair.plan.steps for frame in step.frames}
    if not before:
        explained_by = check_by_id(finding.check).explained_by
        hidden = {frame for one in serious(pair.plan.inspection) if one.check in explained_by for frame in one.frames}
        noted = {frame for one in pair.plan.inspection.findings if one.cause == finding.cause for frame in one.frames}
        return not frames <= hidden | (noted - touched)
    known = {frame for one in before for frame in one.frames}
    fresh = (frames - known) & touched
    return any(not pair.origins(frame) & known for frame in fresh)
