"""Make a plan for a folder from the user's choices, try it in memory, and leave out steps that would do harm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inspector.delivery.choices import Choice, Refused
from inspector.delivery.comparison import Harm, harms
from inspector.delivery.drafting import Barred, for_this_folder, worked_out
from inspector.delivery.plan import Plan, SequencePlan
from inspector.delivery.trial import Tried, inspection_after
from inspector.fixes.base.fix import AnyStep, FixKind
from inspector.fixes.base.registry import ORDER, fix_by_id
from inspector.inspection.inspection import FolderInspection


def make_plan(inspection: FolderInspection, choices: Sequence[Choice], tried: Tried | None = None) -> Plan:
    """Make a plan from the choices, and leave out the steps that would make the folder worse.

    A plan with steps that the user did not ask for by name is tried in memory. If the corrected folder would have a new
    error or warning, or if only some frames would have a trait that all frames or no frames had before, the plan leaves
    out the steps that cause this and records the reason.

    Args:
        inspection: The folder.
        choices: The user's choices.
        tried: Called after each frame of a trial. If steps are left out, another trial begins.

    Raises:
        Refusal: A fix or a parameter is unknown; the folder doesn't have a sequence that a choice names; two requested
            fixes set the same value of a frame; or a requested fix can't be applied.
        MeshqcError: A source file has changed since the inspection.
    """
    settled = for_this_folder(inspection, choices)
    barred: Barred = {}
    while True:
        plan = worked_out(inspection, choices, settled, barred)
        more = _without_harm(plan, settled, barred, tried)
        if more is barred:
            return plan
        barred = more


def _without_harm(plan: Plan, choices: Sequence[Choice], barred: Barred, tried: Tried | None) -> Barred:
    """Find steps to leave out in order to solve one of the problems that the plan causes.

    Returns:
        `barred`, extended by these steps; `barred` itself if the plan causes no problem, or if no problem is solved by
        leaving out steps that the user didn't ask for.
    """
    suspects = {one.key: _unasked(one, choices) for one in plan.sequences}
    if not any(suspects.values()):
        return barred
    for harm in harms(plan, inspection_after(plan, tried)):
        candidates = sorted(suspects[harm.key], key=lambda step: _suspicion(step, harm))
        left_out = [_with(barred, harm, [step]) for step in candidates]
        if len(left_out) > 1:
            left_out.append(_with(barred, harm, candidates))
        for more in left_out:
            if not _remains(harm, worked_out(plan.inspection, plan.choices, choices, more), plan):
                return more
    return barred


def _unasked(plan: SequencePlan, choices: Sequence[Choice]) -> list[AnyStep]:
    asked = {choice.fix for choice in choices if choice.asked and choice.sequence in (None, plan.key)}
    return [step for step in plan.steps if step.fix not in asked]


def _suspicion(step: AnyStep, harm: Harm) -> tuple[bool, bool, int]:
    """Return a sort key that puts the step that most probably causes the problem first."""
    return (
        not harm.frames.intersection(step.frames),
        fix_by_id(step.fix).kind is FixKind.LOSSLESS,
        -ORDER.index(step.fix),
    )


def _with(barred: Barred, harm: Harm, steps: Iterable[AnyStep]) -> Barred:
    """Return `barred`, extended by steps that may cause a problem.

    A step is barred on all frames if the problem affects none of the step's frames or if the step's fix acts on the
    whole sequence; otherwise, the step is barred only on those of its frames that the problem affects.
    """
    more = []
    for step in steps:
        on = harm.frames.intersection(step.frames)
        only = on and not fix_by_id(step.fix).whole
        more.append(Refused(step.fix, tuple(sorted(on)) if only else (), f"left out because {harm.words}"))
    return {**barred, harm.key: (*barred.get(harm.key, ()), *more)}


def _remains(harm: Harm, plan: Plan, complete: Plan) -> bool:
    left = harms(plan, inspection_after(plan), complete) if plan.steps else []
    return (harm.key, harm.cause) in {(other.key, other.cause) for other in left}
