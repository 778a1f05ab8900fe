"""Rewrite material libraries in a form that every reader accepts."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.libraries import UsedLibrary, named, used_libraries
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.library_edit import plain, without_definitions
from inspector.formats.problems import KINDS
from inspector.formats.wavefront.library import Library

_TEXT = ("byte-order-mark", "utf-16", "continued-line")


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the libraries whose text has a fault that this fix corrects.

    Raises:
        Refusal: No library was found, or no library has such a fault.
    """
    met = [one for one in _libraries(context) if one.library is not None and _faults(one.library)]
    if not met:
        raise Refusal("no library has a fault that this fix corrects")
    indices = sorted({index for one in met for index in one.indices})
    faults = dict.fromkeys(fault for one in met if one.library is not None for fault in _faults(one.library))
    return Step(
        FIX.id,
        {},
        context.numbers(indices),
        f"clean the text in {named(one.file for one in met)}",
        tuple(Change(fault, "some", "none") for fault in faults),
        work=None,
    )


def _libraries(context: CheckContext) -> list[UsedLibrary]:
    try:
        return used_libraries(context)
    except NotApplicable as reason:
        raise Refusal(str(reason)) from None


def _faults(library: Library) -> list[str]:
    """Describe those faults of a library that this fix corrects."""
    found = [KINDS[problem.kind] for problem in library.problems if problem.kind in _TEXT]
    return found + ["a material that is defined twice in the same way"] * bool(library.repeats)


def edit_assets(assets: Assets, _: Step[None], __: CheckContext) -> Assets:
    libraries = dict(assets.libraries)
    for place, entry in assets.libraries.items():
        if _faults(entry.library):
            even = plain(entry)
            libraries[place] = without_definitions(even, even.library.repeats)
    return replace(assets, libraries=libraries)


FIX = Fix(
    id="clean-library",
    title="Clean the libraries",
    kind=FixKind.LOSSLESS,
    does="Writes material libraries as UTF-8 without a byte-order mark, with each statement on one line. If a material "
    "is defined more than once in the same way, keeps only the first definition.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.LIBRARY_TEXT}),
    plan=plan,
    whole=True,
    edit_assets=edit_assets,
)
