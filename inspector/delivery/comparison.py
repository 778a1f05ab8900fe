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
    """The effect of a plan on the findings. Each finding is paired with the key of its sequence.

    Attributes:
        gone: Errors and warnings that the plan was to correct and that are gone.
        left: Errors and warnings that the plan was to correct and that remain.
        new: Errors and warnings that the source did not have.
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
        number: Delivered frame number -> source frame number.
        facts: Source frame number -> facts of the delivered frame.
        inherited: Number of a frame that was made -> numbers of the source frames from which it was made.
        touched: Source frame numbers of the frames that a step changes or makes.
        moved: Frames among `touched` in which a step may move vertices.
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
        """Return the errors and warnings of the source that may explain a finding. Checks don't report a finding that
        another finding explains."""
        explained_by = check_by_id(finding.check).explained_by
        return [one for one in serious(self.plan.inspection) if one.check in explained_by]

    def replaced_by(self, finding: Finding) -> Finding | None:
        """Return the source's finding that a step replaced with the given finding; None if no step did so.

        The step corrects the replaced finding, and is not lossless. The replaced finding may have hidden the given
        finding.
        """
        frames = self.in_source(finding)
        for one in self.hidden_by(finding):
            for step in self.steps:
                aimed = one.check in step.answers and frames.intersection(one.frames, step.frames)
                if aimed and fix_by_id(step.fix).kind is not FixKind.LOSSLESS:
                    return one
        return None

    def changed_for(self, check: str) -> frozenset[Fraction]:
        """Return the frames in which a step may change the data that a check uses.

        For a check of motion, these are the frames in which a step may move vertices. For any other check, these are
        all frames that a step touches.
        """
        return self.moved if group_of(check_by_id(check)) == "motion" else self.touched

    def origins(self, frame: Fraction) -> set[Fraction]:
        """Return the frame numbers of the reference frame and of the frames from which a frame was made."""
        series = self.plan.inspection.series
        like = set() if series.reference_index is None else {series.reference_facts.number}
        return like | self.inherited.get(frame, frozenset())

    def in_source(self, finding: Finding) -> set[Fraction]:
        """Return the frames of a finding, as frame numbers in the source."""
        return {self.number.get(frame, frame) for frame in finding.frames}


@dataclass(frozen=True, slots=True)
class Harm:
    """A new problem that a plan causes.

    Attributes:
        key: Key of the sequence.
        cause: Value that distinguishes the problem from other problems of the sequence.
        words: Description of the problem, as a clause that can follow "because".
        frames: Numbers of the affected frames in the source. Empty if the plan leaves some of these frames unchanged,
            or if the problem is that only some frames have a trait, such as UVs.
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
"""Traits in which the frames of a sequence should agree. Each function tests whether a frame has the trait."""


def compare(plan: Plan, after: FolderInspection) -> Comparison:
    """Compare the findings of the delivered folder with those of the source of the plan."""
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
    """Find the problems that a plan causes.

    A problem is a new error or warning, or a trait, such as UVs, that only some of the corrected frames have, although
    all frames or no frames of the source have it.

    Args:
        plan: The plan.
        after: The inspection of the corrected folder.
        complete: The plan from which `plan` was made by leaving out steps; None if `plan` is complete. Frames that the
            complete plan touches count as touched, so that the problems of both plans can be compared.
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
    """Whether a step may move vertices or change the list of frames."""
    fix = fix_by_id(step.fix)
    return b"v" in fix.touches or fix.edit_output is not None


def _place(one: Inspection, index: int) -> str:
    return one.context.file_name(index).text.replace("\\", "/")


def _is_left(pair: _Pair, finding: Finding, aimed: set[Fraction]) -> bool:
    """Whether the finding remains on a frame on which a step was to correct it."""
    wanted = aimed & set(finding.frames)
    return any(other.cause == finding.cause and pair.in_source(other) & wanted for other in pair.after)


def _is_new(pair: _Pair, finding: Finding) -> bool:
    """Whether a finding is new on one of its frames.

    A finding is new if, on this frame, the source does not have it, or has it with a lower severity. The following
    findings are exceptions:

    - A finding that a changed frame shares with the reference frame, or with a frame from which the changed frame was
      made, because the fix may have copied the problem.
    - A known finding on further frames that no step touched, because checks compare each frame with all others.
    - A finding that was only a note before, if no step may change the data that the check uses on the affected frames.
      The check may detect more in such frames when other, broken frames have been repaired.
    - A finding that was not reported before because another finding explained it, unless a step that is not lossless
      corrected the other finding.
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
