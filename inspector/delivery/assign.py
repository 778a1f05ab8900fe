"""Which frames of a sequence each chosen fix gets: every finding is answered once, no value is decided twice."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations

from inspector.checks.base.finding import Finding
from inspector.checks.base.inspect import Inspection
from inspector.delivery.choices import serious
from inspector.delivery.model import Choice, Refused
from inspector.errors import Refusal
from inspector.fixes.base.fix import Fix, Step
from inspector.fixes.base.frames import numbers_text
from inspector.fixes.base.registry import fix_by_id
from inspector.names import safe

Frames = tuple[Fraction, ...]


@dataclass
class Task:
    """A choice for one sequence while its frames are gathered. named: some finding names the fix."""

    choice: Choice
    fix: Fix
    frames: list[Fraction] = field(default_factory=list)
    answers: list[str] = field(default_factory=list)
    named: bool = False
    refusals: list[Refused] = field(default_factory=list)

    def work_out(self, inspection: Inspection, frames: Frames | None) -> Step:
        """Raises Refusal."""
        return self.fix.work_out(inspection.evidence, self.choice.parameters, frames)

    def refuse(self, frames: Iterable[Fraction], reason: Refusal) -> None:
        self.refusals.append(Refused(self.fix.id, tuple(frames), str(reason)))


def work_out_steps(inspection: Inspection, choices: Sequence[Choice]) -> tuple[list[Step], list[Refused]]:
    """The steps of a sequence in canonical order, and what was refused.

    Raises Refusal for an unknown fix or parameter, for two fixes that decide the same value of a frame, and for a fix
    that was asked for and is refused for all its frames.
    """
    tasks = [_task(choice) for choice in choices]
    taken = {
        (claim, frame): task
        for task in tasks
        if task.choice.frames
        for frame in task.choice.frames
        for claim in task.fix.claims
    }
    for finding in _in_order(inspection, tasks):
        _answer(inspection, finding, tasks, taken)
    steps = [step for task in tasks for step in _step(inspection, task)]
    _refuse_conflicts(steps)
    steps.sort(key=lambda step: (fix_by_id(step.fix).stage, step.fix))
    return steps, [refused for task in tasks for refused in dict.fromkeys(task.refusals)]


def _task(choice: Choice) -> Task:
    fix = fix_by_id(choice.fix)
    unknown = [key for key in choice.parameters if key not in fix.parameters]
    if unknown:
        known = ", ".join(fix.parameters) or "none"
        raise Refusal(f"{fix.id} has no parameter {safe(str(unknown[0]))}; it has {known}")
    if fix.whole and choice.frames is not None:
        raise Refusal(f"{fix.id} acts on the whole sequence; its frames can't be chosen")
    return Task(choice, fix)


def _in_order(inspection: Inspection, tasks: Sequence[Task]) -> list[Finding]:
    """Findings that a frame made anew answers come first: then nothing else need be done to that frame."""
    makers = {task.fix.id for task in tasks if task.fix.slots is not None}
    return sorted(serious(inspection), key=lambda finding: not makers.intersection(finding.fixes))


def _answer(
    inspection: Inspection, finding: Finding, tasks: Sequence[Task], taken: dict[tuple[str, Fraction], Task]
) -> None:
    """Give the finding's frames to the first fix that isn't refused, those asked for by name before the others."""
    for task in _candidates(finding, tasks):
        task.named = True
        if task.fix.whole:
            task.answers.append(finding.check)
            if _try(inspection, task, None):
                return
            continue
        if task.choice.frames is not None:
            if set(task.choice.frames) & set(finding.frames):
                task.answers.append(finding.check)
            continue
        claims = task.fix.claims
        free = tuple(
            frame for frame in finding.frames if all(taken.get((claim, frame), task) is task for claim in claims)
        )
        if not free:
            return
        accepted = _accepted(inspection, task, free)
        if accepted:
            task.frames += accepted
            task.answers.append(finding.check)
            taken.update({(claim, frame): task for frame in accepted for claim in claims})
            return


def _candidates(finding: Finding, tasks: Sequence[Task]) -> list[Task]:
    named = [task for task in tasks if task.fix.id in finding.fixes]
    return sorted(named, key=lambda task: (not task.choice.asked, finding.fixes.index(task.fix.id)))


def _try(inspection: Inspection, task: Task, frames: Frames | None) -> bool:
    try:
        task.work_out(inspection, frames)
    except Refusal as reason:
        task.refuse(frames or (), reason)
        return False
    return True


def _accepted(inspection: Inspection, task: Task, frames: Frames) -> Frames:
    """The frames for which the fix is no guess: all together, or else one by one."""
    try:
        task.work_out(inspection, frames)
    except Refusal as reason:
        if len(frames) == 1:
            task.refuse(frames, reason)
            return ()
        return tuple(frame for frame in frames if _try(inspection, task, (frame,)))
    return frames


def _step(inspection: Inspection, task: Task) -> Iterator[Step]:
    """The step of a task, none where there is nothing to do. Raises Refusal where it was asked for and is refused."""
    frames: Frames | None = tuple(dict.fromkeys(task.frames)) or task.choice.frames
    if frames is None and not task.fix.whole and (task.named or not task.choice.asked):
        if task.choice.asked and task.refusals:
            raise Refusal(f"{task.fix.id}: {task.refusals[0].reason}")
        return
    try:
        step = task.work_out(inspection, frames)
    except Refusal as reason:
        if task.choice.asked:
            raise Refusal(f"{task.fix.id}: {reason}") from reason
        task.refuse(frames or (), reason)
        return
    yield replace(step, answers=tuple(dict.fromkeys(task.answers)))


def _refuse_conflicts(steps: Sequence[Step]) -> None:
    for one, other in combinations(steps, 2):
        both = set(one.frames) & set(other.frames)
        claims = sorted(fix_by_id(one.fix).claims & fix_by_id(other.fix).claims)
        if both and claims:
            raise Refusal(f"{one.fix} and {other.fix} both decide the {claims[0]} of {numbers_text(both)}; choose one")
