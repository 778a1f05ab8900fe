"""Compare the findings of a folder with those of its corrected copy."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import check_by_id, group_of
from inspector.delivery.choices import serious
from inspector.delivery.plan import Plan, SequencePlan, frame_path
from inspector.fixes.base.fix import AnyStep, FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.measure.facts import FrameFacts

Found = tuple[tuple[str, Finding], ...]


@dataclass(frozen=True)
class Comparison:
    """The effect of the fixes on the findings, each with the key of its sequence.

    Attributes:
        gone: Errors and warnings that steps were to correct and that are gone.
        left: Errors and warnings that steps were to correct and that remain.
        new: Errors and warnings that were not there before.
    """

    gone: Found
    left: Found
    new: Found


@dataclass(frozen=True)
class _Pair:
    """The plan of a sequence, and the findings of the delivered frames.

    Attributes:
        plan: The plan.
        after: Errors and warnings of the delivered frames.
        number: Frame number in the source, by delivered frame number.
        facts: Facts of the delivered frames, by frame number in the source.
        inherited: For each frame made from others, by its number, the numbers of those frames.
        touched: Frames that a step changes or makes, by frame number in the source.
        moved: The frames among `touched` on which a step may change positions.
        steps: The steps that may have caused the findings.
    """

    plan: SequencePlan
    after: tuple[Finding, ...]
    number: Mapping[Fraction, Fraction]
    facts: Mapping[Fraction, FrameFacts]
    inherited: Mapping[Fraction, frozenset[Fraction]]
    touched: frozenset[Fraction]
    moved: frozenset[Fraction]
    steps: tuple[AnyStep, ...]

    def hidden_by(self, finding: Finding) -> list[Finding]:
        """The errors and warnings of the source that explained a finding, which was therefore not reported there."""
        explained_by = check_by_id(finding.check).explained_by
        return [one for one in serious(self.plan.inspection) if one.check in explained_by]

    def replaced_by(self, finding: Finding) -> Finding | None:
        """The finding of the source in place of which a step that is not lossless leaves this one; None if there is
        none.

        Such a step changes data and gains nothing: what explained the finding is gone, and the finding is still true.
        """
        frames = self.in_source(finding)
        for one in self.hidden_by(finding):
            for step in self.steps:
                aimed = one.check in step.answers and frames.intersection(one.frames, step.frames)
                if aimed and fix_by_id(step.fix).kind is not FixKind.LOSSLESS:
                    return one
        return None

    def changed_for(self, check: str) -> frozenset[Fraction]:
        """The frames on which a step may change the data that a check uses. Checks of motion use only positions."""
        return self.moved if group_of(check_by_id(check)) == "motion" else self.touched

    def origins(self, frame: Fraction) -> set[Fraction]:
        """The numbers of the frames that a changed frame was made from, or made to resemble."""
        series = self.plan.inspection.series
        like = set() if series.reference_index is None else {series.reference_facts.number}
        return like | self.inherited.get(frame, frozenset())

    def in_source(self, finding: Finding) -> set[Fraction]:
        """The frames of a finding, by frame number in the source."""
        return {self.number.get(frame, frame) for frame in finding.frames}


@dataclass(frozen=True, slots=True)
class Harm:
    """A change for the worse that a plan makes.

    Attributes:
        key: Key of the sequence.
        cause: Distinguishes it from other harm to the sequence.
        words: A description, used as the reason of a refusal.
        frames: Numbers of the affected frames in the source; empty if the plan leaves some of them unchanged, or if the
            harm is that only some frames have a trait.
    """

    key: str
    cause: tuple[str, object]
    words: str
    frames: frozenset[Fraction]


_TRAITS: Mapping[str, Callable[[FrameFacts], bool]] = {
    "UVs": lambda facts: not facts.faces_without_uvs,
    "normals": lambda facts: not facts.faces_without_normals,
    "a material": lambda facts: facts.problem("face-without-material") is None,
}
"""Traits that should be the same in all frames of a sequence: either all frames have them, or none."""


def compare(plan: Plan, after: FolderInspection) -> Comparison:
    """Compare the findings of the delivered folder with those of the source.

    Args:
        plan: The plan.
        after: The inspection of the delivered folder.
    """
    gone: list[tuple[str, Finding]] = []
    left: list[tuple[str, Finding]] = []
    new: list[tuple[str, Finding]] = []
    for one in plan.sequences:
        pair = _pair(one, after, one.steps)
        for finding in serious(one.inspection):
            steps = [step for step in one.steps if finding.check in step.answers and step.fix in finding.fixes]
            aimed = {frame for step in steps for frame in step.frames}
            if aimed & set(finding.frames):
                (left if _is_left(pair, finding, aimed) else gone).append((one.key, finding))
        new += [(one.key, finding) for finding in pair.after if _is_new(pair, finding)]
    return Comparison(tuple(gone), tuple(left), tuple(new))


def harms(plan: Plan, after: FolderInspection, complete: Plan | None = None) -> list[Harm]:
    """Find the harm that the plan does: new errors and warnings, and traits that only some frames have afterwards.

    Args:
        plan: The plan.
        after: The inspection of the corrected folder.
        complete: The plan from which steps were left out to get this plan; None if it is complete. Frames that the
            steps of that plan touch count as touched here as well, so that harm to them counts in both plans.
    """
    found = []
    for one, other in zip(plan.sequences, (complete or plan).sequences, strict=True):
        pair = _pair(one, after, (*one.steps, *other.steps))
        for finding in pair.after:
            if _is_new(pair, finding):
                article = "an" if finding.severity is Severity.ERROR else "a"
                former = pair.replaced_by(finding)
                does = "add" if former is None else f"replace {former.check} with"
                words = f"it would {does} {article} {finding.severity.word}, {finding.check}: {finding.message}"
                frames = frozenset(pair.in_source(finding))
                found.append(Harm(one.key, finding.cause, words, frames if frames <= pair.touched else frozenset()))
        found += _mixed(pair)
    return found


def _mixed(pair: _Pair) -> Iterator[Harm]:
    before = [facts for facts in pair.plan.inspection.series.facts if facts.readable and facts.faces]
    left = {number: facts for number, facts in pair.facts.items() if facts.readable and facts.faces}
    for trait, has in _TRAITS.items():
        missing = {number for number, facts in left.items() if not has(facts)}
        if len({has(facts) for facts in before}) == 1 and 0 < len(missing) < len(left):
            words = f"{numbers_text(missing)} would have faces without {trait}, unlike the other frames"
            yield Harm(pair.plan.key, ("mixed", trait), words, frozenset())


def _pair(plan: SequencePlan, after: FolderInspection, steps: Sequence[AnyStep]) -> _Pair:
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
    touched = frozenset(frame for step in steps for frame in step.frames)
    moved = frozenset(frame for step in steps if _moves(step) for frame in step.frames)
    return _Pair(plan, tuple(findings), number, left, inherited, touched, moved, tuple(steps))


def _moves(step: AnyStep) -> bool:
    """Whether a step may change the positions of vertices, or makes frames."""
    fix = fix_by_id(step.fix)
    return b"v" in fix.touches or fix.edit_output is not None


def _place(one: Inspection, index: int) -> str:
    return one.context.file_name(index).text.replace("\\", "/")


def _is_left(pair: _Pair, finding: Finding, aimed: set[Fraction]) -> bool:
    """Whether a frame on which steps were to correct the finding still has it."""
    wanted = aimed & set(finding.frames)
    return any(other.cause == finding.cause and pair.in_source(other) & wanted for other in pair.after)


def _is_new(pair: _Pair, finding: Finding) -> bool:
    """Whether the finding is new on a frame: the frame did not have it before, or had it with a lower severity.

    These don't count as new:
    - A finding that a frame made from others shares with its sources, or that a changed frame shares with the reference
      frame, which it was made to resemble.
    - A known finding on further frames that no step touched, because checks compare each frame with all others.
    - A finding that was a note before and is more severe now, if no step may change the data that the check uses on
      these frames. With the broken frames around them repaired, the check detects more.
    - A finding that another finding explained before, unless a step that is not lossless corrected only the latter.
    """
    before = [
        one for one in serious(pair.plan.inspection) if one.cause == finding.cause and one.severity >= finding.severity
    ]
    if not finding.frames:
        return not before
    frames = pair.in_source(finding)
    if not before:
        if pair.replaced_by(finding) is not None:
            return True
        hidden = {frame for one in pair.hidden_by(finding) for frame in one.frames}
        noted = {frame for one in pair.plan.inspection.findings if one.cause == finding.cause for frame in one.frames}
        return not frames <= hidden | (noted - pair.changed_for(finding.check))
    known = {frame for one in before for frame in one.frames}
    fresh = (frames - known) & pair.touched
    return any(not pair.origins(frame) & known for frame in fresh)
