"""From choices to a plan for a whole folder, tried in memory and without the steps that would do harm."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from inspector.delivery.allocate import allocate
from inspector.delivery.choices import Choice, Refused, sequence_key
from inspector.delivery.comparison import Harm, harms
from inspector.delivery.plan import Plan, SequencePlan
from inspector.delivery.trial import Tried, inspection_after
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, source_assets
from inspector.fixes.base.fix import AnyStep, FixKind
from inspector.fixes.base.output_frames import OutputFrames, source_frames
from inspector.fixes.base.registry import ORDER, fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import counted, safe

_INVENTED_SHARE = 10
"""One frame in this many may be invented if the user states nothing, rounded up: one frame in any short sequence."""
_INVENTED_IN_A_ROW = 3
"""Maximum number of invented frames in a row: an eighth of a second at 24 fps."""

_Barred = Mapping[str, tuple[Refused, ...]]
"""The steps left out of each sequence's plan, by its key, because a trial showed that they do harm."""


def make_plan(inspection: FolderInspection, choices: Sequence[Choice], tried: Tried | None = None) -> Plan:
    """Make a plan from the choices, and leave out the steps that would make the folder worse.

    Steps that were not asked for by name are tried in memory: the checks judge the result as they will judge the
    delivery. A step that adds an error or a warning, or that leaves only some frames with something that all or none
    had, is left out and refused with that reason.

    Args:
        inspection: The folder.
        choices: The user's choices.
        tried: Called after each frame of a trial. If a step is left out, another trial begins.

    Raises:
        Refusal: A fix or parameter is unknown, two choices set the same value of a frame, or a fix that was asked for
            would have to guess.
        MeshqcError: A source changed since it was inspected.
    """
    settled = _for_this_folder(inspection, choices)
    barred: _Barred = {}
    while True:
        plan = _worked_out(inspection, choices, settled, barred)
        more = _without_harm(plan, settled, barred, tried)
        if more is barred:
            return plan
        barred = more


def untried_plan(inspection: FolderInspection, choices: Sequence[Choice]) -> Plan:
    """Make a plan from the choices as `make_plan` does, but without the trial.

    Args:
        inspection: The folder.
        choices: The user's choices.

    Raises:
        Refusal: For the same reasons as `make_plan`.
    """
    return _worked_out(inspection, choices, _for_this_folder(inspection, choices), {})


def _for_this_folder(inspection: FolderInspection, choices: Iterable[Choice]) -> list[Choice]:
    """Choices for sequences of the folder. A plan for one sequence fits a folder with one sequence of any name."""
    keys = [sequence_key(one) for one in inspection.inspections]
    wanted = {choice.sequence for choice in choices if choice.sequence is not None}
    strange = wanted - set(keys)
    if not strange:
        return list(choices)
    if len(keys) == 1 and len(wanted) == 1:
        return [Choice(one.fix, one.parameters, None, one.frames, one.asked) for one in choices]
    raise Refusal(f"the folder has no sequence {', '.join(safe(name) for name in sorted(strange))}")


def _worked_out(
    inspection: FolderInspection, choices: Sequence[Choice], settled: Sequence[Choice], barred: _Barred
) -> Plan:
    most = inspection.settings.invent_at_most
    return Plan(
        tuple(choices),
        inspection,
        tuple(_plan_sequence(one, settled, barred.get(sequence_key(one), ()), most) for one in inspection.inspections),
    )


def _plan_sequence(
    inspection: Inspection, choices: Iterable[Choice], barred: Sequence[Refused], most: int | None
) -> SequencePlan:
    """The plan of one sequence.

    A step that turns out to be impossible is left out, and its frames are free for other fixes.

    Args:
        inspection: The sequence.
        choices: The user's choices.
        barred: The steps to leave out of the plan.
        most: Maximum number of frames that may be added; None for the default.
    """
    key = sequence_key(inspection)
    own = [choice for choice in choices if choice.sequence in (None, key)]
    steps, refused = allocate(inspection, own, barred)
    asked = {choice.fix for choice in own if choice.asked}
    chosen = {choice.fix for choice in own if choice.asked and choice.frames is not None}
    outputs, assets, kept = source_frames(inspection.series), source_assets(inspection.context), []
    for step in steps:
        try:
            outputs, assets = _applied(inspection, step, outputs, assets)
            if step.fix not in chosen and not fix_by_id(step.fix).whole:
                _refuse_many_inventions(outputs, step, most)
        except Refusal as reason:
            if step.fix in asked:
                raise Refusal(f"{step.fix}: {reason}") from reason
            return _plan_sequence(inspection, choices, (*barred, Refused(step.fix, step.frames, str(reason))), most)
        kept.append(step)
    return SequencePlan(key, inspection, tuple(kept), outputs, assets, tuple(refused))


def _refuse_many_inventions(outputs: OutputFrames, step: AnyStep, most: int | None) -> None:
    """Raise Refusal if the step invents too many frames.

    Too many means more than were stated or, without a statement, more than a tenth of all frames or a long run.
    """
    invented = [output.made is not None and output.number in step.frames for output in outputs]
    count = sum(invented)
    run = max((len(list(alike)) for made, alike in groupby(invented) if made), default=0)
    share = math.ceil(len(outputs) / _INVENTED_SHARE)
    if count <= (share if most is None else most) and (run <= _INVENTED_IN_A_ROW or most is not None):
        return
    limit = (
        f"unless stated otherwise, at most a tenth ({share:,}) and {_INVENTED_IN_A_ROW} in a row are allowed"
        if most is None
        else f"at most {most:,} were allowed"
    )
    raise Refusal(
        f"{counted(count, 'frame')} of {len(outputs):,} would be added, {run:,} in a row; {limit}; "
        f"--invent-at-most {count} allows it"
    )


def _applied(
    inspection: Inspection, step: AnyStep, outputs: OutputFrames, assets: Assets
) -> tuple[OutputFrames, Assets]:
    fix = fix_by_id(step.fix)
    if fix.edit_output is not None:
        outputs = fix.edit_output(outputs, step, inspection.context)
    if fix.edit_assets is not None:
        assets = fix.edit_assets(assets, step, inspection.context)
    return outputs, assets


def _without_harm(plan: Plan, choices: Sequence[Choice], barred: _Barred, tried: Tried | None) -> _Barred:
    """The steps to leave out, including the steps in `barred`; the same object if the plan does no harm of its
    own."""
    suspects = {one.key: _unasked(one, choices) for one in plan.sequences}
    if not any(suspects.values()):
        return barred
    for harm in harms(plan, inspection_after(plan, tried)):
        candidates = sorted(suspects[harm.key], key=lambda step: _suspicion(step, harm))
        left_out = [_with(barred, harm, [step]) for step in candidates]
        if len(left_out) > 1:
            left_out.append(_with(barred, harm, candidates))
        for more in left_out:
            if not _remains(harm, _worked_out(plan.inspection, plan.choices, choices, more), plan):
                return more
    return barred


def _unasked(plan: SequencePlan, choices: Sequence[Choice]) -> list[AnyStep]:
    asked = {choice.fix for choice in choices if choice.asked and choice.sequence in (None, plan.key)}
    return [step for step in plan.steps if step.fix not in asked]


def _suspicion(step: AnyStep, harm: Harm) -> tuple[bool, bool, int]:
    """Sort key: the step that most probably does the harm comes first. A step on its frames precedes others;
    then a step that changes data, then a late step."""
    return (
        not harm.frames.intersection(step.frames),
        fix_by_id(step.fix).kind is FixKind.LOSSLESS,
        -ORDER.index(step.fix),
    )


def _with(barred: _Barred, harm: Harm, steps: Iterable[AnyStep]) -> _Barred:
    """Bar the steps on the frames of the harm, or altogether if it doesn't concern single frames."""
    more = []
    for step in steps:
        on = harm.frames.intersection(step.frames)
        only = on and not fix_by_id(step.fix).whole
        more.append(Refused(step.fix, tuple(sorted(on)) if only else (), f"left out: {harm.words}"))
    return {**barred, harm.key: (*barred.get(harm.key, ()), *more)}


def _remains(harm: Harm, plan: Plan, complete: Plan) -> bool:
    left = harms(plan, inspection_after(plan), complete) if plan.steps else []
    return (harm.key, harm.cause) in {(other.key, other.cause) for other in left}
