"""Name ambient maps as colour maps, in materials that have no colour map."""

from __future__ import annotations

from collections.abc import Set
from fractions import Fraction

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.checks.base.textures import AMBIENT, ambient_only, textures
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, LibraryAsset
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.library_edit import restated
from inspector.names import Name


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[Set[Name]]:
    """Find the coloured ambient maps of materials without a colour map.

    Returns:
        A step whose work is the names of these materials.

    Raises:
        Refusal: There is none.
    """
    try:
        found = ambient_only(textures(context))
    except NotApplicable:
        found = []
    if not found:
        raise Refusal("no material has a coloured ambient map and no colour map")
    indices = sorted({index for usage in found for index in usage.indices})
    return Step(
        FIX.id,
        {},
        context.numbers(indices),
        f"name {count_of(len(found), 'ambient map')} as colour {'map' if len(found) == 1 else 'maps'}",
        tuple(
            Change(f"{usage.map.map.material}, {usage.map.map.name}", usage.map.map.statement.display, "map_Kd")
            for usage in found[:3]
        ),
        work=frozenset(usage.map.map.material for usage in found),
    )


def edit_assets(assets: Assets, step: Step[Set[Name]], _: CheckContext) -> Assets:
    """Write `map_Kd` in place of the ambient statements of these materials."""
    return assets.edited(lambda entry, _: _restated(entry, step.work))


def _restated(entry: LibraryAsset, materials: Set[Name]) -> LibraryAsset:
    wrong = [
        line for line in entry.library.maps if line.material in materials and line.statement.raw.lower() in AMBIENT
    ]
    return restated(entry, wrong, b"map_Kd", keep_options=True) if wrong else entry


FIX = Fix(
    id="colour-map-statement",
    title="Colour maps named as such",
    kind=FixKind.LOSSLESS,
    does="In materials without a colour map, names a coloured ambient map with the statement of colour maps, `map_Kd`.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.COLOUR_MAPS}),
    plan=plan,
    whole=True,
    edit_assets=edit_assets,
)
