"""Remove unused materials from the libraries."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.checks.base.libraries import named, unused_materials
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.library_edit import without_definitions
from inspector.names import Name


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the materials that no face in the folder's sequences uses.

    Raises:
        Refusal: There is no such material, or the unused materials can't be determined.
    """
    try:
        unused = unused_materials(context)
    except NotApplicable as reason:
        raise Refusal(str(reason)) from None
    if not unused:
        raise Refusal("every material is in use")
    names = dict.fromkeys(definition.name for _, definition in unused)
    return Step(
        FIX.id,
        {},
        all_numbers(context),
        f"remove {count_of(len(names), 'material')} that no face uses: {named(names)}",
        tuple(Change(str(library.file), definition.name.display, "") for library, definition in unused),
        work=None,
    )


def edit_assets(assets: Assets, _: Step[None], context: CheckContext) -> Assets:
    series = (context.series, *context.siblings)
    used: set[Name] = {name for one in series for facts in one.facts for name in facts.materials}
    libraries = {
        place: without_definitions(entry, unused)
        if (unused := [one for one in entry.library.definitions if one.name not in used])
        else entry
        for place, entry in assets.libraries.items()
    }
    return replace(assets, libraries=libraries)


FIX = Fix(
    id="drop-unused-materials",
    title="Remove unused materials",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Removes materials from the libraries if no face of any sequence uses them.",
    cost="These materials, and the textures that only they use, are not delivered.",
    touches=frozenset(),
    claims=frozenset({Claim.UNUSED_MATERIALS}),
    plan=plan,
    whole=True,
    edit_assets=edit_assets,
)
