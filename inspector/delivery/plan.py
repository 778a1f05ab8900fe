"""The chosen fixes in canonical order, worked out once for each whole sequence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inspector.delivery.allocate import allocate
from inspector.delivery.answers import all_choices, lossless_choices
from inspector.delivery.plan_file import SavedPlan, plan_from_json, plan_to_json
from inspector.delivery.types import Choice, Plan, Refused, SequencePlan, sequence_key
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, source_assets
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrames, source_frames
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection

__all__ = [
    "Choice",
    "Plan",
    "Refused",
    "SavedPlan",
    "SequencePlan",
    "all_choices",
    "lossless_choices",
    "make_plan",
    "plan_from_json",
    "plan_to_json",
    "sequence_key",
]


def make_plan(inspection: FolderInspection, choices: Sequence[Choice]) -> Plan:
    """Work the choices out. Raises Refusal for an unknown fix or parameter, two choices that claim the same value of a
    frame, and a fix that was asked for and would be a guess."""
    settled = _for_this_folder(inspection, choices)
    sequences = tuple(_plan_sequence(one, settled) for one in inspection.inspections)
    return Plan(tuple(choices), inspection, sequences)


def _for_this_folder(inspection: FolderInspection, choices: Iterable[Choice]) -> list[Choice]:
    """Choices for sequences of the folder. A plan for one sequence fits a folder with one, whatever its name."""
    keys = [sequence_key(one) for one in inspection.inspections]
    wanted = {choice.sequence for choice in choices if choice.sequence is not None}
    strange = wanted - set(keys)
    if not strange:
        return list(choices)
    if len(keys) == 1 and len(wanted) == 1:
        return [Choice(one.fix, one.parameters, None, one.frames, one.asked) for one in choices]
    names = ", ".join(sorted(strange))
    raise Refusal(f"the folder has no sequence {names.encode('utf-8', 'replace').decode()}")


def _plan_sequence(inspection: Inspection, choices: Iterable[Choice]) -> SequencePlan:
    key = sequence_key(inspection)
    own = [choice for choice in choices if choice.sequence in (None, key)]
    steps, refused = allocate(inspection, own)
    asked = {choice.fix for choice in own if choice.asked}
    outputs, assets, kept = source_frames(inspection.series), source_assets(inspection.context), []
    for step in steps:
        try:
            outputs, assets = _applied(inspection, step, outputs, assets)
        except Refusal as reason:
            if step.fix in asked:
                raise Refusal(f"{step.fix}: {reason}") from reason
            refused.append(Refused(step.fix, step.frames, str(reason)))
            continue
        kept.append(step)
    return SequencePlan(key, inspection, tuple(kept), outputs, assets, tuple(refused))


def _applied(
    inspection: Inspection, step: AnyStep, outputs: OutputFrames, assets: Assets
) -> tuple[OutputFrames, Assets]:
    fix = fix_by_id(step.fix)
    if fix.edit_output is not None:
        outputs = fix.edit_output(outputs, step, inspection.context)
    if fix.edit_assets is not None:
        assets = fix.edit_assets(assets, step, inspection.context)
    return outputs, assets
