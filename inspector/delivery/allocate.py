"""Assign the frames of a sequence to the chosen fixes.

Each frame of a finding is assigned to at most one fix. On each frame, no two fixes set the same value.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations

from inspector.checks.base.finding import Finding
from inspector.delivery.apply import context_as_left
from inspector.delivery.choices import Choice, Refused, serious
from inspector.errors import Refusal
from inspector.fixes.base.fix import AnyFix, AnyStep, Claim, FixKind
from inspector.fixes.base.registry import ORDER, fix_by_id
from inspector.inspection.inspection import Inspection
from inspector.names import safe
from inspector.sequence.discovery.frame_ranges import numbers_text

Frames = tuple[Fraction, ...]


@dataclass
class Task:
    """A chosen fix of one sequence, and the frames that have been assigned to it so far.

    Attributes:
        choice: The choice of the fix.
        fix: The fix.
        frames: Frames that have been assigned to the fix.
        answers: Ids of the checks whose findings the fix corrects.
        refusals: Refusals of the fix, with the frames and the reasons.
        barred: Refusals of the fix on frames where it does harm, according to a trial of the plan. A refusal without
            frames bars the fix on all frames.
        latest: The frames of the most recently planned step, and the step itself; None if there is no such step. The
            step is kept because it is often the final step.
    """

    choice: Choice
    fix: AnyFix
    frames: list[Fraction] = field(default_factory=list)
    answers: list[str] = field(default_factory=list)
    refusals: list[Refused] = field(default_factory=list)
    barred: tuple[Refused, ...] = ()
    latest: tuple[Frames | None, AnyStep] | None = None

    def plan(self, inspection: Inspection, frames: Frames | None, before: Sequence[AnyStep] = ()) -> AnyStep:
        """Plan a step of the fix.

        Args:
            inspection: The inspection of the sequence.
            frames: Frame numbers; None for all frames to which the fix can be applied.
            before: Steps from whose result the fix starts; empty to start from the source.

        Raises:
            Refusal: The fix would have to guess, or is barred on one of these frames.
        """
        for refused in self.barred:
            if frames is None or not refused.frames or set(frames) & set(refused.frames):
                raise Refusal(refused.reason, refused.answers)
        if before:
            return self.fix.plan(context_as_left(inspection.context, before), self.choice.parameters, frames)
        if self.latest is None or self.latest[0] != frames:
            self.latest = None  # frees its memory before the next step is planned
            self.latest = frames, self.fix.plan(inspection.context, self.choice.parameters, frames)
        return self.latest[1]

    @property
    def barred_frames(self) -> frozenset[Fraction]:
        return frozenset(frame for refused in self.barred for frame in refused.frames)

    @property
    def chosen(self) -> Frames | None:
        """The frames that the user chose, without barred frames; None if the user chose no frames."""
        if self.choice.frames is None:
            return None
        return tuple(frame for frame in self.choice.frames if frame not in self.barred_frames)


def allocate(
    inspection: Inspection, choices: Sequence[Choice], barred: Sequence[Refused] = ()
) -> tuple[list[AnyStep], list[Refused]]:
    """Plan the steps for a sequence, in the order in which fixes are applied, and return the fixes that were refused.

    Args:
        inspection: The inspection of the sequence.
        choices: The choices for the sequence.
        barred: Refusals of fixes on frames where they do harm, according to a trial of the plan; ignored for fixes that
            the user asked for by name.

    Raises:
        Refusal: A fix or parameter is unknown; frames were chosen for a fix that acts on the whole sequence; two
            requested fixes set the same value of a frame; or a requested fix can't be applied.
    """
    tasks = [_task(choice, barred) for choice in choices]
    taken = {(claim, frame): task for task in tasks for frame in task.chosen or () for claim in task.fix.claims}
    findings = _in_order(inspection, tasks)
    for finding in findings:
        _answer(inspection, finding, tasks, taken)
    steps: list[AnyStep] = []
    for task in sorted(tasks, key=lambda task: task.fix.edit_output is not None):
        steps += _step(inspection, task, findings, steps)
    steps = sorted(_without_made_frames(steps), key=lambda step: ORDER.index(step.fix))
    loser = _loser(steps, findings, {task.fix.id for task in tasks if task.choice.asked})
    if loser is not None:
        return allocate(inspection, choices, (*barred, loser))
    return steps, list(_gathered(refused for task in tasks for refused in task.refusals))


def _task(choice: Choice, barred: Sequence[Refused]) -> Task:
    fix = fix_by_id(choice.fix)
    unknown = [key for key in choice.parameters if key not in fix.parameters]
    if unknown:
        known = ", ".join(fix.parameters) or "none"
        raise Refusal(f"{fix.id} has no parameter {safe(str(unknown[0]))}; valid parameters: {known}")
    if fix.whole and choice.frames is not None:
        raise Refusal(
            f"{fix.id} acts on the whole sequence, so no frames can be chosen for it; name the fix without frames"
        )
    return Task(choice, fix, barred=() if choice.asked else tuple(one for one in barred if one.fix == fix.id))


def _in_order(inspection: Inspection, tasks: Sequence[Task]) -> list[Finding]:
    """Return the errors and warnings of the sequence in the order in which they are handled.

    First come the findings that are corrected by making a new frame, because a new frame needs no other fix.
    """
    makers = {task.fix.id for task in tasks if task.fix.edit_output is not None}
    return sorted(serious(inspection), key=lambda finding: not makers.intersection(finding.fixes))


def _answer(
    inspection: Inspection, finding: Finding, tasks: Sequence[Task], taken: dict[tuple[Claim, Fraction], Task]
) -> None:
    """Assign each frame of a finding to the first fix that accepts the frame, in the order of `_candidates`.

    A refusal is recorded only if no fix accepts the frame, or if the user asked for the fix that refused it.
    """
    left = set(finding.frames)
    refusals: list[tuple[Task, Refused]] = []
    unasked: list[tuple[Task, set[Fraction]]] = []
    for task in _candidates(finding, tasks):
        if task.choice.asked and task.choice.frames is None and not task.fix.whole:
            refusals += _displaced(inspection, task, unasked)
        if not left:
            continue
        if task.chosen is not None:
            accepted = set(task.chosen) & left
        elif task.fix.whole:
            accepted = set(left) if _try(inspection, task, None, refusals) else set()
        else:
            accepted = _share(inspection, task, left, taken, refusals)
        if accepted:
            task.answers.append(finding.check)
        if not task.choice.asked:
            unasked.append((task, accepted))
        left -= accepted
    for task, refused in refusals:
        frames = refused.frames if task.choice.asked else tuple(frame for frame in refused.frames if frame in left)
        if frames or (left and not refused.frames):
            task.refusals.append(replace(refused, frames=frames))


def _share(
    inspection: Inspection,
    task: Task,
    left: set[Fraction],
    taken: dict[tuple[Claim, Fraction], Task],
    refusals: list[tuple[Task, Refused]],
) -> set[Fraction]:
    """Assign frames to the fix, and return the assigned frames.

    `left` contains the frames that still need a fix. Frames on which another fix sets the same value are removed from
    `left`.
    """
    free = {frame for frame in left if all(taken.get((claim, frame), task) is task for claim in task.fix.claims)}
    accepted = _accepted(inspection, task, tuple(sorted(free)), refusals)
    task.frames += accepted
    taken.update({(claim, frame): task for frame in accepted for claim in task.fix.claims})
    left &= free
    return set(accepted)


def _candidates(finding: Finding, tasks: Sequence[Task]) -> list[Task]:
    """Return the tasks that can correct a finding, in order of preference.

    Fixes for which the user chose frames come first, then lossless fixes, then other fixes that the user asked for.
    """
    named = [task for task in tasks if task.fix.id in finding.fixes]

    def rank(task: Task) -> tuple[bool, bool, bool, int]:
        lossless = task.fix.kind is FixKind.LOSSLESS
        return task.choice.frames is None, not lossless, not task.choice.asked, finding.fixes.index(task.fix.id)

    return sorted(named, key=rank)


def _displaced(
    inspection: Inspection, task: Task, unasked: Iterable[tuple[Task, Set[Fraction]]]
) -> Iterator[tuple[Task, Refused]]:
    """Yield refusals of a fix that the user asked for, on frames that other fixes correct.

    The other fixes are lossless, and the user did not ask for them by name. There is one refusal for each of them that
    corrects frames in place of the requested fix.
    """
    for other, frames in unasked:
        lost = _accepted(inspection, task, tuple(sorted(frames)), [])
        if lost:
            reason = (
                f"left out because {other.fix.id}, which is lossless, corrects the same findings; use --without "
                f"{other.fix.id} to apply {task.fix.id} instead"
            )
            yield task, Refused(task.fix.id, lost, reason, (("--without", other.fix.id),))


def _try(inspection: Inspection, task: Task, frames: Frames | None, refusals: list[tuple[Task, Refused]]) -> bool:
    try:
        task.plan(inspection, frames)
    except Refusal as reason:
        refusals.append((task, Refused.of(task.fix.id, frames or (), reason)))
        return False
    return True


def _accepted(inspection: Inspection, task: Task, frames: Frames, refusals: list[tuple[Task, Refused]]) -> Frames:
    """Return the frames that the fix accepts. If it refuses the frames as a group, each frame is tried separately."""
    refusals += [
        (task, replace(refused, frames=there))
        for refused in task.barred
        if (there := tuple(frame for frame in frames if frame in refused.frames))
    ]
    frames = tuple(frame for frame in frames if frame not in task.barred_frames)
    together: list[tuple[Task, Refused]] = []
    if not frames or _try(inspection, task, frames, together):
        return frames
    one_by_one = {frame for frame in frames if _try(inspection, task, (frame,), refusals)}
    return tuple(frame for frame in frames if frame in one_by_one)


def _step(
    inspection: Inspection, task: Task, findings: Sequence[Finding], others: Sequence[AnyStep]
) -> Iterator[AnyStep]:
    """Yield the step of a task; nothing if its fix has nothing to do or is refused.

    A refusal is recorded in the task. A fix that makes frames from other frames starts from the result of the steps in
    `others`.

    Raises:
        Refusal: The user asked for the fix, and it can't be applied.
    """
    frames: Frames | None = tuple(sorted(set(task.frames))) or task.chosen
    if frames == ():
        task.refusals += task.barred
        return
    mentioned = any(task.fix.id in finding.fixes for finding in findings)
    if frames is None and mentioned and not (task.fix.whole and (task.answers or task.choice.asked)):
        if task.choice.asked and task.refusals:
            raise Refusal(f"{task.fix.id}: {task.refusals[0].reason}", task.refusals[0].answers)
        return
    try:
        step = task.plan(inspection, frames, others if task.fix.edit_output is not None else ())
    except Refusal as reason:
        if task.choice.asked:
            raise Refusal(f"{task.fix.id}: {reason}", reason.answers) from reason
        task.refusals.append(Refused.of(task.fix.id, frames or (), reason))
        return
    changes = tuple(change for change in step.preview if change.before != change.after)
    answers = tuple(dict.fromkeys(task.answers))
    yield replace(step, frames=_edited(inspection, task.fix, step), answers=answers, preview=changes)


def _edited(inspection: Inspection, fix: AnyFix, step: AnyStep) -> Frames:
    """Return the frames of a step. Unreadable and empty frames are left out if the fix only edits frames."""
    if fix.edit_frame is None or fix.edit_output is not None or fix.edit_assets is not None:
        return step.frames
    filled = {facts.number for facts in inspection.series.facts if facts.filled}
    return tuple(number for number in step.frames if number in filled)


def _gathered(refusals: Iterable[Refused]) -> Iterator[Refused]:
    alike: dict[tuple[str, str], list[Refused]] = {}
    for one in refusals:
        alike.setdefault((one.fix, one.reason), []).append(one)
    for first, *others in alike.values():
        numbers = set(first.frames).union(*(one.frames for one in others))
        yield replace(first, frames=tuple(sorted(numbers)))


def _without_made_frames(steps: Sequence[AnyStep]) -> list[AnyStep]:
    """Exclude new frames from the steps that act on the whole sequence.

    A new frame is made from frames to which these steps have already been applied.
    """
    made = {
        (claim, frame)
        for step in steps
        if (maker := fix_by_id(step.fix)).edit_output is not None
        for claim in maker.claims
        for frame in step.frames
    }
    return [replace(step, frames=_unmade(step, made)) for step in steps]


def _unmade(step: AnyStep, made: Set[tuple[Claim, Fraction]]) -> Frames:
    fix = fix_by_id(step.fix)
    if not fix.whole or fix.edit_frame is None or fix.edit_output is not None:
        return step.frames
    return tuple(frame for frame in step.frames if not any((claim, frame) in made for claim in fix.claims))


def _loser(steps: Sequence[AnyStep], findings: Sequence[Finding], asked: Set[str]) -> Refused | None:
    """Return the fix to leave out, with the frames and the reason; None if no two steps set the same value of a frame.

    A step whose fix the user asked for is kept. Otherwise, the step that corrects the more severe finding is kept or,
    if both are equally severe, the step that is applied first, because later fixes can be applied to its result.

    Raises:
        Refusal: The user asked for both fixes.
    """
    for one, other in combinations(steps, 2):
        both = set(one.frames) & set(other.frames)
        claims = sorted(claim.value for claim in fix_by_id(one.fix).claims & fix_by_id(other.fix).claims)
        if not both or not claims:
            continue
        values = f"the {claims[0]} of {numbers_text(both)}"
        if {one.fix, other.fix} <= asked:
            raise Refusal(f"{one.fix} and {other.fix} both set {values}; choose only one of them")
        loser, winner = sorted((one, other), key=lambda step: _precedence(step, findings, asked))
        reason = f"left out because {winner.fix} also sets {values}"
        if winner.fix not in asked:
            reason += f"; use --without {winner.fix} to apply {loser.fix} instead"
        return Refused(loser.fix, () if fix_by_id(loser.fix).whole else tuple(sorted(both)), reason)
    return None


def _precedence(step: AnyStep, findings: Sequence[Finding], asked: Set[str]) -> tuple[bool, int, int]:
    """Return a sort key. Of two steps, the step to keep has the higher key."""
    answered = [one.severity for one in findings if one.check in step.answers and step.fix in one.fixes]
    return step.fix in asked, max(answered, default=0), -ORDER.index(step.fix)
