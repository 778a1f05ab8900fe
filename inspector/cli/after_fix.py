"""Suggest the commands to run after `fix`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence, Set
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from inspector.cli import values
from inspector.cli.commands.fix import FixOptions
from inspector.cli.next_steps import fix_command, in_terminal_ui
from inspector.cli.quoting import quoted
from inspector.cli.values import FixWords
from inspector.delivery.choices import Choice, all_choices, lossless_choices, normalising_choices, serious
from inspector.delivery.destination import free_name, unused
from inspector.delivery.drafting import untried_plan
from inspector.delivery.plan import Plan
from inspector.delivery.plan_file import SavedPlan
from inspector.delivery.planning import make_plan
from inspector.delivery.trial import Tried
from inspector.errors import Answer, MeshqcError, Refusal
from inspector.fixes.base.fix import DataChange, FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection
from inspector.report.command_options import fix_word

_INVENT = "--invent-at-most"

_Suggestion = tuple[str, str]
"""A command line, and a short description of its effect."""


@dataclass(frozen=True)
class FixRequest:
    """A command line of `fix`.

    Attributes:
        inspection: The inspection of the folder, with the user's statements about it.
        folder: The folder, as the user wrote it.
        options: The options of the command.
        saved: The plan given with `--plan`; None without this option.
    """

    inspection: FolderInspection
    folder: Path
    options: FixOptions
    saved: SavedPlan | None = None

    @property
    def choices(self) -> tuple[Choice, ...]:
        """The chosen fixes.

        With `--plan` or `--only`, these are the fixes given with that option. Otherwise, they are the lossless fixes
        for the errors and warnings or, with `--all`, all fixes for the errors and warnings. `--normalise` and `--with`
        add or replace fixes, and `--without` removes fixes.

        Raises:
            Refusal: A fix given with `--without` doesn't exist.
        """
        inspection, options = self.inspection, self.options
        if self.saved is not None:
            return self.saved.choices
        if options.only is not None:
            return _replaced((), options.only)
        named = all_choices(inspection) if options.all else lossless_choices(inspection)
        if options.normalise is not None:
            ours = normalising_choices(inspection, options.normalise)
            named = (*(one for one in named if one.fix not in {each.fix for each in ours}), *ours)
        for identifier in options.without:
            fix_by_id(identifier)
        kept = [choice for choice in named if choice.fix not in options.without]
        return _replaced(kept, options.add)

    @property
    def command(self) -> str:
        """The command line, with an output folder that doesn't exist yet."""
        named = self.options.output
        out = unused(named) if named is not None and named.name else free_name(self.folder)
        return " ".join([fix_command(self.folder, self.inspection.settings, out), *self._words()])

    def every(self) -> FixRequest | None:
        """Return the same request with `--all`, or None if it already has `--all`, `--only` or `--plan`."""
        options = self.options
        if options.all or options.only is not None or options.plan is not None:
            return None
        return self._changed(all=True)

    def answered(self, answer: Answer) -> FixRequest | None:
        """Return the request with an option that resolves a refusal; None if the options can't be combined."""
        (option, value), options = answer, self.options
        if option == _INVENT:
            settings = replace(self.inspection.settings, invent_at_most=int(value))
            return replace(self, inspection=replace(self.inspection, settings=settings))
        if options.plan is not None:
            return None
        if option == "--without":
            return None if options.only is not None else self._changed(without=[*options.without, value])
        named = values.fix(value)
        if options.only is not None:
            return self._changed(only=[named if one[0] == named[0] else one for one in options.only])
        return self._changed(add=[*(one for one in options.add if one[0] != named[0]), named])

    def _changed(self, **options: object) -> FixRequest:
        return replace(self, options=FixOptions(**{**vars(self.options), **options}))

    def _words(self) -> Iterator[str]:
        """Yield the options that `command` adds to the result of `fix_command`."""
        options = self.options
        if options.all:
            yield "--all"
        for named in options.add:
            yield f"--with {fix_word(*named)}"
        yield from (f"--without {identifier}" for identifier in options.without)
        if options.only is not None:
            yield f"--only {' '.join(fix_word(*named) for named in options.only)}"
        if options.plan is not None:
            yield f"--plan {quoted(options.plan)}"
        if options.normalise is not None:
            yield f"--normalise {options.normalise}"
        if options.form is not None:
            yield f"--as {options.form}"
        if options.unit is not None:
            yield f"--unit {options.unit}"
        if options.share_textures:
            yield "--share-textures"
        if options.save is not None:
            yield f"--save {quoted(options.save)}"


def steps_after_fix(
    request: FixRequest, plan: Plan, after: FolderInspection, out: Path | None, tried: Tried | None = None
) -> list[str]:
    """Suggest commands to carry out the plan after a dry run, and to correct or show the remaining findings.

    Args:
        request: The command line that was run.
        plan: The plan of this command line.
        after: The inspection of the corrected folder, or of the source if nothing was written.
        out: The corrected folder; None if nothing was written.
        tried: Function that is called after each frame while further fixes are planned.

    Returns:
        The commands, each followed by a line about its effect.
    """
    written: list[_Suggestion] = []
    if out is None and (plan.steps or request.options.form is not None):
        written.append((request.command, "carries out this plan"))
    named = {fix for one in after.inspections for finding in serious(one) for fix in finding.fixes}
    if not any(serious(one) for one in after.inspections):
        return _lines(written)
    suggested = [*written, *_with_answers(request, plan), *_with_every_fix(request, plan, named, out, tried)]
    if out is not None:
        suggested.append((in_terminal_ui(out, after.settings), "shows the remaining findings in the terminal UI"))
    return _lines(suggested)


def steps_after_refusal(request: FixRequest, refusal: Refusal) -> list[str]:
    """Suggest commands with options that resolve a refusal, each followed by a line about its effect."""
    again = filter(None, map(request.answered, refusal.answers))
    return _lines((one.command, "allows the refused fix; preview with --dry-run") for one in again if _planned(one))


def _with_every_fix(
    request: FixRequest, plan: Plan, named: Set[str], out: Path | None, tried: Tried | None
) -> Iterator[_Suggestion]:
    """Suggest the command with `--all`, if the remaining findings name fixes that were not chosen."""
    every = request.every()
    if every is None:
        return
    known = {step.fix for step in plan.steps} | {one.fix for part in plan.sequences for one in part.refused}
    chosen = {choice.fix for choice in every.choices}
    offered = {fix for fix in chosen & named - known if fix_by_id(fix).kind is not FixKind.LOSSLESS}
    if not offered:
        return
    applied: dict[str, None] = {}
    with suppress(MeshqcError):  # a file has changed
        applied = {step.fix: None for step in make_plan(every.inspection, every.choices, tried).steps}
    added = [fix for fix in applied if fix in offered]
    if added:
        one = "; to add only one of them, use --with ID instead of --all" if len(added) > 1 else ""
        yield every.command, f"adds {', '.join(added)} to this plan{one}; preview with --dry-run"
    elif out is not None or not plan.steps:  # after a dry run, its steps may still correct these findings
        yield f"{every.command} --dry-run", "shows why the fixes for these findings are refused"


def _with_answers(request: FixRequest, plan: Plan) -> Iterator[_Suggestion]:
    """Suggest commands with options that resolve refusals in a plan."""
    given = Counter(
        pair
        for part in plan.sequences
        for pair in dict.fromkeys((refused.fix, answer) for refused in part.refused for answer in refused.answers)
    )
    most = max((int(value) for _, (option, value) in given if option == _INVENT), default=0)
    for (fix, (option, value)), sequences in given.items():
        if option == _INVENT:
            helps = int(value) == most
        else:
            # The parameters of a fix for whole sequences apply to all sequences, even without such a finding.
            # What is dropped is the user's decision: the refusal states it, but no command suggests it.
            everywhere = sequences == len(plan.sequences) or not fix_by_id(fix).whole
            helps = option == "--with" and everywhere and DataChange.DROPS not in fix_by_id(fix).changes
        again = request.answered((option, value)) if helps else None
        if again is not None and fix in _planned(again):
            yield again.command, f"allows the refused fix {fix}; preview with --dry-run"


def _planned(request: FixRequest) -> set[str]:
    """Return the ids of the fixes that a command line would plan, or an empty set if the command would fail."""
    try:
        return {step.fix for step in untried_plan(request.inspection, request.choices).steps}
    except MeshqcError:
        return set()


def _lines(suggested: Iterable[_Suggestion]) -> list[str]:
    lines: list[str] = []
    for command, effect in suggested:
        lines += [f"{'  or:' if lines else 'next:'} {command}", f"      ({effect})"]
    return lines


def _replaced(choices: Iterable[Choice], added: Sequence[FixWords]) -> tuple[Choice, ...]:
    """Add fixes to choices. An added fix replaces an earlier choice of the same fix."""
    asked = [Choice(identifier, parameters) for identifier, parameters in added]
    return (*(choice for choice in choices if choice.fix not in {named.fix for named in asked}), *asked)
