"""Which fixes the words of `meshqc fix` ask for."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable

from inspector.cli.values import FixWords
from inspector.delivery.choices import Choice, all_choices, lossless_choices
from inspector.delivery.plan_file import SavedPlan
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection


def chosen(inspection: FolderInspection, options: Namespace, saved: SavedPlan | None) -> tuple[Choice, ...]:
    """The choices of a saved plan; else of --only; else those that answer findings, and what --with and --without
    change. Raises Refusal for a fix that there isn't."""
    if saved is not None:
        return saved.choices
    if options.only is not None:
        return _replaced((), options.only)
    named = all_choices(inspection) if options.all else lossless_choices(inspection)
    for identifier in options.without:
        fix_by_id(identifier)
    kept = [choice for choice in named if choice.fix not in options.without]
    return _replaced(kept, options.add)


def _replaced(choices: Iterable[Choice], added: Iterable[FixWords]) -> tuple[Choice, ...]:
    """Choices with others asked for by name, which take the place of those of the same fix."""
    asked = [Choice(identifier, parameters) for identifier, parameters in added]
    return (*(choice for choice in choices if choice.fix not in {one.fix for one in asked}), *asked)
