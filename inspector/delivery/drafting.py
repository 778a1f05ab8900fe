"""Make a plan for a folder from the user's choices, without a trial."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from inspector.delivery.allocate import allocate
from inspector.delivery.choices import Choice, Refused, sequence_key, serious
from inspector.delivery.plan import Plan, SequencePlan
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, source_assets
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrames, source_frames
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import counted, safe

_INVENTED_SHARE = 10
"""If the user states no limit, the maximum number of invented frames is the number of delivered frames divided by this
value, rounded up.
"""
_INVENTED_IN_A_ROW = 3
"""Maximum number of invented frames in a row, if the user states no limit: an eighth of a second at 24 fps."""

Barred = Mapping[str, tuple[Refused, ...]]
"""For each sequence key, the fixes to leave out of the plan, because a trial showed that they do harm."""


def untried_plan(inspection: FolderInspection, choices: Sequence[Choice]) -> Plan:
    """Make a plan as `make_plan` does, but without a trial.

    Raises:
        Refusal: For the same reasons as `make_plan`.
    """
    return Plan(tuple(choices), inspection, tuple(untried_parts(inspection, choices)))


def untried_parts(inspection: FolderInspection, choices: Sequence[Choice]) -> Iterator[SequencePlan]:
    """Yield the plans of the sequences, as in `untried_plan`. Each plan is made when it is requested.

    Raises:
        Refusal: For the same reasons as `make_plan`.
    """
    return _parts(inspection, for_this_folder(inspection, choices), {})


def for_this_folder(inspection: FolderInspection, choices: Iterable[Choice]) -> list[Choice]:
    """Adapt choices to the sequences of a folder.

    If the folder has only one sequence, and the choices name only one sequence, which has a different key, all choices
    are applied to the folder's sequence. Otherwise, a choice for all sequences is limited to the sequences with an
    error or a warning that names the fix. The choice is not limited if there are no such sequences, if frames were
    chosen, or if the fix acts on the whole sequence and has a stated parameter, such as a factor.

    Raises:
        Refusal: A choice names a sequence that the folder doesn't have.
    """
    keys = [sequence_key(one) for one in inspection.inspections]
    wanted = {choice.sequence for choice in choices if choice.sequence is not None}
    strange = wanted - set(keys)
    if not strange:
        return [one for choice in choices for one in _where_needed(inspection, choice)]
    if len(keys) == 1 and len(wanted) == 1:
        return [Choice(one.fix, one.parameters, None, one.frames, one.asked) for one in choices]
    raise Refusal(f"the folder has no sequence named {' or '.join(safe(name) for name in sorted(strange))}")


def _where_needed(inspection: FolderInspection, choice: Choice) -> Iterator[Choice]:
    """Yield a copy of the choice for each sequence that needs the fix.

    If the choice is not limited to such sequences (see `for_this_folder`), yield only the choice itself.
    """
    needy = [one for one in inspection.inspections if any(choice.fix in finding.fixes for finding in serious(one))]
    stated = choice.frames is not None or (choice.parameters and fix_by_id(choice.fix).whole)
    if choice.sequence is not None or stated or not needy:
        yield choice
        return
    for one in needy:
        yield replace(choice, sequence=sequence_key(one))


def worked_out(
    inspection: FolderInspection, choices: Sequence[Choice], settled: Sequence[Choice], barred: Barred
) -> Plan:
    """Make a plan without the barred fixes, and without a trial.

    `settled` contains the choices, adapted by `for_this_folder` to the sequences of the folder.

    Raises:
        Refusal: For the same reasons as `untried_plan`.
    """
    return Plan(tuple(choices), inspection, tuple(_parts(inspection, settled, barred)))


def _parts(inspection: FolderInspection, settled: Sequence[Choice], barred: Barred) -> Iterator[SequencePlan]:
    most = inspection.settings.invent_at_most
    for one in inspection.inspections:
        yield _plan_sequence(one, settled, barred.get(sequence_key(one), ()), most)


def _plan_sequence(
    inspection: Inspection, choices: Iterable[Choice], barred: Sequence[Refused], most: int | None
) -> SequencePlan:
    """Make the plan of one sequence.

    If a step turns out to be impossible, the plan is made again without the step. Other fixes may then be assigned
    to the frames of the omitted step. `most` is the user's limit on invented frames; None for the default limit.

    Raises:
        Refusal: A step that the user asked for is impossible.
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
                raise Refusal(f"{step.fix}: {reason}", reason.answers) from reason
            return _plan_sequence(inspection, choices, (*barred, Refused.of(step.fix, step.frames, reason)), most)
        kept.append(step)
    return SequencePlan(key, inspection, tuple(kept), outputs, assets, tuple(refused))


def _refuse_many_inventions(outputs: OutputFrames, step: AnyStep, most: int | None) -> None:
    """Check that a step doesn't invent too many frames.

    Raises:
        Refusal: The step invents more frames than the user's limit allows or, if the user stated no limit, more than
            `_INVENTED_SHARE` or `_INVENTED_IN_A_ROW` allows.
    """
    invented = [output.made is not None and output.number in step.frames for output in outputs]
    count = sum(invented)
    run = max((len(list(alike)) for made, alike in groupby(invented) if made), default=0)
    share = math.ceil(len(outputs) / _INVENTED_SHARE)
    if count <= (share if most is None else most) and (run <= _INVENTED_IN_A_ROW or most is not None):
        return
    limit = (
        f"the default limits are a tenth of the frames ({share:,}) and {_INVENTED_IN_A_ROW} in a row"
        if most is None
        else f"the stated limit is {most:,}"
    )
    in_a_row = f", {run:,} in a row" if run > 1 else ""
    raise Refusal(
        f"{count:,} of {counted(len(outputs), 'frame')} would be {'an estimate' if count == 1 else 'estimates'}"
        f"{in_a_row}, but {limit}; "
        f"use --invent-at-most {count} to allow this",
        [("--invent-at-most", f"{count}")],
    )


def _applied(
    inspection: Inspection, step: AnyStep, outputs: OutputFrames, assets: Assets
) -> tuple[OutputFrames, Assets]:
    """Apply a step to the frames to write, and to the libraries and textures.

    Raises:
        Refusal: The step is impossible, or would change nothing.
    """
    fix = fix_by_id(step.fix)
    if fix.edit_output is not None:
        outputs = fix.edit_output(outputs, step, inspection.context)
    if fix.edit_assets is not None:
        edited = fix.edit_assets(assets, step, inspection.context)
        if edited == assets and fix.edit_frame is None and fix.edit_output is None:
            raise Refusal(
                "the library to change is not part of the delivery, because no frame refers to its path; use the fix "
                "share-library as well"
            )
        assets = edited
    return outputs, assets
