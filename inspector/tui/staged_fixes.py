"""The staged fixes: the user's choices, and the plan's steps for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from inspector.checks.base.finding import Finding
from inspector.delivery.choices import Choice
from inspector.delivery.plan import Plan, SequencePlan
from inspector.fixes.base.fix import AnyFix, AnyStep
from inspector.fixes.base.registry import all_fixes

Choices = tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Offer:
    """A fix that is offered for a finding.

    Attributes:
        fix: The fix.
        staged: Whether the fix is staged for the finding.
        step: The plan's step for the fix; None until the plan is made, or if the plan has no such step.
        refused: Why the fix was refused; None if it wasn't refused.
    """

    fix: AnyFix
    staged: bool
    step: AnyStep | None = None
    refused: str | None = None


def offers(finding: Finding, key: str, choices: Choices, plan: Plan | None, refused: Mapping[str, str]) -> list[Offer]:
    """Return the fixes for a finding, in the order in which the finding names them."""
    known = {fix.id: fix for fix in all_fixes()}
    return [
        Offer(known[name], False, refused=refused[name])
        if name in refused
        else _offer(known[name], finding, key, choices, plan)
        for name in finding.fixes
        if name in known
    ]


def _offer(fix: AnyFix, finding: Finding, key: str, choices: Choices, plan: Plan | None) -> Offer:
    choice = choice_of(fix, key, choices)
    if choice is None or not _covers(choice, finding):
        return Offer(fix, False)
    part = part_of(plan, key)
    if part is None:
        return Offer(fix, True)
    step = next((step for step in part.steps if step.fix == fix.id and _meet(step.frames, finding)), None)
    reason = next((one.reason for one in part.refused if one.fix == fix.id and _meet(one.frames, finding)), None)
    # A fix that is chosen for all frames may leave some frames to an earlier fix. On these frames, it isn't staged.
    return Offer(fix, step is not None, step, reason if step is None else None)


def answered(findings: Sequence[Finding], key: str, plan: Plan | None) -> frozenset[int]:
    """Return the indices of the findings for which the plan has a step."""
    part = part_of(plan, key)
    steps = part.steps if part else ()
    return frozenset(
        at
        for at, finding in enumerate(findings)
        if any(step.fix in finding.fixes and _meet(step.frames, finding) for step in steps)
    )


def _meet(frames: tuple[Fraction, ...], finding: Finding) -> bool:
    return not frames or not finding.frames or not set(frames).isdisjoint(finding.frames)


def part_of(plan: Plan | None, key: str) -> SequencePlan | None:
    """Return the part of a plan that concerns a sequence; None if there is no plan, or if the plan has no such part."""
    return next((part for part in plan.sequences if part.key == key), None) if plan else None


def choice_of(fix: AnyFix, key: str, choices: Choices) -> Choice | None:
    """Return the choice of a fix for a sequence; None if the fix is not chosen."""
    return next((one for one in choices if one.fix == fix.id and one.sequence in (None, key)), None)


def _covers(choice: Choice, finding: Finding) -> bool:
    return choice.frames is None or set(finding.frames) <= set(choice.frames)


def stage(choices: Choices, fix: AnyFix, finding: Finding, key: str, parameters: Mapping[str, object]) -> Choices:
    """Return the choices with a fix added for the frames of a finding.

    If the fix was already chosen for other frames, it remains chosen for those frames. The fix is chosen for all frames
    if it always changes the whole sequence, if the finding names no frames, or if the fix was already chosen for all
    frames.
    """
    before = choice_of(fix, key, choices)
    rest = tuple(one for one in choices if one is not before)
    if fix.whole or not finding.frames or (before is not None and before.frames is None):
        return (*rest, Choice(fix.id, parameters, key))
    frames = {*finding.frames, *(before.frames or () if before else ())}
    return (*rest, Choice(fix.id, parameters, key, tuple(sorted(frames))))


def take_out(choices: Choices, offer: Offer, finding: Finding, key: str) -> Choices:
    """Return the choices after a fix has been removed from the frames of a finding.

    The fix stays staged for other frames, unless it always changes the whole sequence, or the finding names no frames.
    """
    before = choice_of(offer.fix, key, choices)
    if before is None:
        return choices
    rest = tuple(one for one in choices if one is not before)
    frames = before.frames or (offer.step.frames if offer.step else ())
    whole = offer.fix.whole or not finding.frames
    left = () if whole else tuple(number for number in frames if number not in finding.frames)
    return (*rest, replace(before, frames=left)) if left else rest


def without(choices: Choices, fix: str, key: str) -> Choices:
    """Return the choices after a fix has been removed from a sequence. If the fix was chosen for all sequences, it is
    removed from all of them."""
    return tuple(one for one in choices if not (one.fix == fix and one.sequence in (None, key)))


def with_lossless(choices: Choices, exact: Choices) -> Choices:
    """Return the choices with all lossless fixes, each for all frames to which it can be applied."""
    named = {(one.fix, one.sequence) for one in choices}
    lossless = {(one.fix, one.sequence) for one in exact}
    kept = [
        # A refusal on frames that the user did not choose must not stop the plan.
        replace(one, frames=None, asked=False) if one.frames and (one.fix, one.sequence) in lossless else one
        for one in choices
    ]
    wanted = [one for one in exact if (one.fix, one.sequence) not in named and (one.fix, None) not in named]
    return (*kept, *wanted)
