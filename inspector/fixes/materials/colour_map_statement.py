"""Make a coloured image the colour map of a material that uses it as an ambient or normal map."""

from __future__ import annotations

from collections.abc import Set
from fractions import Fraction

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.checks.base.textures import AMBIENT, misplaced_colours, textures
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, LibraryAsset
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.library_edit import restated
from inspector.names import Name

Misplaced = Set[tuple[Name, bytes]]
"""Materials that use a coloured image in the wrong statement: name of the material, and keyword in lower case."""


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[Misplaced]:
    """Find the materials without a colour map that use a coloured image as an ambient or normal map.

    Returns:
        A step whose `work` contains the names of these materials and the keywords of the wrong statements.

    Raises:
        Refusal: There is no such material.
    """
    try:
        found = misplaced_colours(textures(context))
    except NotApplicable:
        found = []
    if not found:
        raise Refusal("no coloured image is used as the ambient or normal map of a material without a colour map")
    indices = sorted({index for usage in found for index in usage.indices})
    return Step(
        FIX.id,
        {},
        context.numbers(indices),
        f"use `map_Kd` for {count_of(len(found), 'coloured image')}",
        tuple(
            Change(f"{usage.map.map.material}, {usage.map.map.name}", usage.map.map.statement.display, "map_Kd")
            for usage in found
        ),
        work=frozenset((usage.map.map.material, usage.keyword) for usage in found),
    )


def edit_assets(assets: Assets, step: Step[Misplaced], _: CheckContext) -> Assets:
    return assets.edited(lambda entry, _: _restated(entry, step.work))


def _restated(entry: LibraryAsset, misplaced: Misplaced) -> LibraryAsset:
    for options in (True, False):  # the options of a normal map have no meaning for a colour map
        wrong = [
            line
            for line in entry.library.maps
            if (line.material, keyword := line.statement.raw.lower()) in misplaced and (keyword in AMBIENT) is options
        ]
        entry = restated(entry, wrong, b"map_Kd", keep_options=options) if wrong else entry
    return entry


FIX = Fix(
    id="colour-map-statement",
    title="Use map_Kd for colour maps",
    kind=FixKind.LOSSLESS,
    does="Changes the statement of an ambient or normal map to `map_Kd`, the statement for colour maps, if the map is "
    "a coloured image and its material has no colour map. Images that hold normals are left alone.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.COLOUR_MAPS}),
    plan=plan,
    whole=True,
    edit_assets=edit_assets,
)
