"""Which fixes are staged: what the user chose, as choices for a plan; and what the plan made of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from inspector.checks.base.finding import Finding
from inspector.delivery.plan import Choice, Plan, Refused, SequencePlan
from inspector.fixes.base.fix import Fix, FixKind, Step
from inspector.fixes.base.registry import all_fixes

Choices = tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Offer:
    """A fix that answers a finding. staged: it is chosen for it. step: what the plan made of it, once worked out."""

    fix: Fix
    staged: bool
    step: Step | None = None
    refused: str | None = None


def offers(finding: Finding, key: str, choices: Choices, plan: Plan | None, refused: Mapping[str, str]) -> list[Offer]:
    """The fixes that answer a finding of the sequence `key`, in the order in which the finding names them.

    refused: fix id -> why the last try was refused.
    """
    known = {fix.id: fix for fix in all_fixes()}
    return [
        Offer(known[name], False, refused=refused[name])
        if name in refused
        else _offer(known[name], finding, key, choices, plan)
        for name in finding.fixes
        if name in known
    ]


def _offer(fix: Fix, finding: Finding, key: str, choices: Choices, plan: Plan | None) -> Offer:
    choice = choice_of(fix, key, choices)
    staged = choice is not None and _covers(choice, finding)
    part = part_of(plan, key)
    step = next((step for step in part.steps if step.fix == fix.id), None) if part and staged else None
    refused = next((one.reason for one in refusals(part) if one.fix == fix.id), None) if staged else None
    return Offer(fix, staged, step, refused)


def part_of(plan: Plan | None, key: str) -> SequencePlan | None:
    return next((part for part in plan.sequences if part.key == key), None) if plan else None


def refusals(part: SequencePlan | None) -> tuple[Refused, ...]:
    return part.refused if part else ()


def choice_of(fix: Fix, key: str, choices: Choices) -> Choice | None:
    """The choice of this fix that holds for a sequence."""
    return next((one for one in choices if one.fix == fix.id and one.sequence in (None, key)), None)


def _covers(choice: Choice, finding: Finding) -> bool:
    return choice.frames is None or set(finding.frames) <= set(choice.frames)


def stage(choices: Choices, fix: Fix, finding: Finding, key: str, parameters: dict[str, object]) -> Choices:
    """Choose a fix for a finding; chosen for other findings of the sequence already, it takes these frames as well.

    A fix that invents something is chosen for the finding's frames only; the others for all that they answer.
    """
    before = choice_of(fix, key, choices)
    everywhere = fix.whole or fix.kind is not FixKind.INVENTING or not finding.frames
    if everywhere or (before is not None and before.frames is None):
        frames = None
    else:
        frames = tuple(sorted({*finding.frames, *(before.frames or () if before else ())}))
    return (*(one for one in choices if one is not before), Choice(fix.id, parameters, key, frames))


def take_out(choices: Choices, fix: Fix, finding: Finding, key: str) -> Choices:
    """Choose a fix no longer for a finding; it stays for the frames of others that it was chosen for by name."""
    before = choice_of(fix, key, choices)
    if before is None:
        return choices
    rest = tuple(one for one in choices if one is not before)
    left = () if before.frames is None else tuple(number for number in before.frames if number not in finding.frames)
    return (*rest, replace(before, frames=left)) if left else rest


def without(choices: Choices, fix: str, key: str) -> Choices:
    """The choices without a fix for one sequence (or for all, where it was chosen for all)."""
    return tuple(one for one in choices if not (one.fix == fix and one.sequence in (None, key)))


def with_exact(choices: Choices, exact: Choices) -> Choices:
    """The choices, and every exact one that isn't among them."""
    named = {(one.fix, one.sequence) for one in choices}
    wanted = [one for one in exact if (one.fix, one.sequence) not in named and (one.fix, None) not in named]
    return (*choices, *wanted)
