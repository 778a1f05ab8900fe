"""Remove maps whose texture is missing, or replace them with the test grid."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.checks.base.textures import COLOUR
from inspector.errors import MeshqcError, Refusal
from inspector.fixes.base.assets import Assets, LibraryAsset, TextureAsset
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.library_edit import without_maps
from inspector.fixes.base.parameters import answers, typed, word_of
from inspector.formats.wavefront.library import MapLine
from inspector.lettering.texture_fit import fit_texture
from inspector.names import Name
from inspector.picture.grid import grid_picture
from inspector.picture.png import png_bytes
from inspector.sequence.materials.resolver import MapUse

DROP, GRID = "drop", "grid"

_SIDE = 1024
"""Length of the test grid's longer side, in pixels. A square grid then has 8 x 8 cells with sides of 128 pixels."""
_NARROWEST = 8.0
"""Maximum ratio of the test grid's longer side to its shorter side. Cells of a narrower grid are too small for
glyphs."""


@dataclass(frozen=True, slots=True)
class Replacement:
    """How maps without a texture are treated.

    Attributes:
        by: DROP or GRID.
        aspects: Width over height of a texture that suits the surface, by material. Other materials get a square
            texture.
    """

    by: str
    aspects: Mapping[Name, float]


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[Replacement]:
    """Find the maps whose texture is missing.

    Raises:
        Refusal: There is no such map, or the parameter `by` is missing or wrong.
    """
    uses: dict[tuple[Name, int], MapUse] = {}
    indices: list[int] = []
    for index in range(len(context.series.facts)):
        gone = [use for use in context.materials(index).maps if use.target.path is None]
        uses |= {(use.library, use.map.line): use for use in gone}
        indices += [index] * bool(gone)
    if not uses:
        raise Refusal("the texture of every map was found")
    by = word_of(parameters, "by", (DROP, GRID))
    if by is None:
        raise Refusal(
            "textures are missing; if they are in another folder, add `--textures DIR`; otherwise, use "
            f"{typed(FIX.id, f'by={DROP}')} to remove their maps, or "
            f"{typed(FIX.id, f'by={GRID}')} to show a test grid instead",
            answers(FIX.id, f"by={DROP}", f"by={GRID}"),
        )
    maps = [use.map for use in uses.values()]
    replaced = sum(_shows(line) for line in maps) if by == GRID else 0
    return Step(
        FIX.id,
        {"by": by},
        context.numbers(indices),
        f"{_summary(len(maps) - replaced, replaced)}: {'texture' if len(maps) == 1 else 'textures'} not found",
        tuple(
            Change(
                f"{line.statement} of {line.material}",
                line.name.display,
                "test grid" * (by == GRID and _shows(line)),
            )
            for line in maps
        ),
        work=Replacement(by, _aspects(context) if replaced else {}),
    )


def _summary(removed: int, replaced: int) -> str:
    """Describe the changes to the maps, as in `remove 2 maps and use the test grid for 1 map`."""
    actions = [
        f"remove {count_of(removed, 'map')}" * bool(removed),
        f"use the test grid for {count_of(replaced, 'map')}" * bool(replaced),
    ]
    return " and ".join(filter(None, actions))


def _shows(line: MapLine) -> bool:
    """Return whether a map can show the test grid. Only colour maps, of any kind, can show it."""
    return line.statement.raw.lower() in COLOUR


def _aspects(context: CheckContext) -> dict[Name, float]:
    try:
        regions = fit_texture(context.series).materials
    except MeshqcError:  # without UVs, a square is as good as any shape
        return {}
    return {one.material: one.wanted_aspect for one in regions if one.material is not None}


def edit_assets(assets: Assets, step: Step[Replacement], _: CheckContext) -> Assets:
    work = step.work
    return assets.edited(lambda entry, place: _mended(entry, place, work))


def _mended(entry: LibraryAsset, place: str, work: Replacement) -> LibraryAsset:
    gone = {
        line.start
        for line, texture in zip(entry.library.maps, entry.textures, strict=True)
        if texture.target.path is None and texture.place is None
    }
    shown = {line.start for line in entry.library.maps if line.start in gone and work.by == GRID and _shows(line)}
    folder = posixpath.join(posixpath.dirname(place), "textures")
    textures = tuple(
        _grid(texture, folder, work.aspects.get(line.material, 1.0)) if line.start in shown else texture
        for line, texture in zip(entry.library.maps, entry.textures, strict=True)
    )
    dropped = [line for line in entry.library.maps if line.start in gone - shown]
    mended = replace(entry, textures=textures)
    return without_maps(mended, dropped) if dropped else mended


def _grid(texture: TextureAsset, folder: str, aspect: float) -> TextureAsset:
    """Return the test grid as a texture.

    The cells of the grid are square on the surface, unless _NARROWEST limits the aspect ratio of the texture.
    """
    aspect = min(max(aspect, 1.0 / _NARROWEST), _NARROWEST)
    width, height = round(_SIDE * min(1.0, aspect)), round(_SIDE * min(1.0, 1.0 / aspect))
    place = posixpath.join(folder, f"meshqc_grid_{width}x{height}.png")
    return TextureAsset(texture.target, place, png_bytes(grid_picture(width, height)))


FIX = Fix(
    id="replace-missing-maps",
    title="Replace maps whose texture is missing",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS, DataChange.DROPS}),
    does="Removes maps whose texture is missing, so the surface shows the plain colour of the material. With by=grid, "
    "colour maps whose texture is missing show a test grid instead. The cells of the grid are square on the surface. "
    "Other maps whose texture is missing, such as normal maps, are still removed.",
    cost="The name of the missing texture is removed from the library. With by=grid, the surface shows a test grid, "
    "not your texture.",
    touches=frozenset(),
    claims=frozenset({Claim.MISSING_TEXTURES}),
    plan=plan,
    parameters={"by": "drop (remove the maps) or grid (show the test grid instead)"},
    required=frozenset({"by"}),
    whole=True,
    edit_assets=edit_assets,
)
