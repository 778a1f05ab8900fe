"""Use the statement `norm` for bump maps that contain normals."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.checks.base.textures import BUMP, COLOUR, is_plain_bump
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, LibraryAsset
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.library_edit import restated
from inspector.formats.wavefront.library import MapLine
from inspector.sequence.materials.resolver import MapUse


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[frozenset[Path]]:
    """Find the bump maps whose images hold normals.

    Returns:
        A step whose `work` contains the paths of these images.

    Raises:
        Refusal: There is no such map, or all such maps have options other than `-bm 1`.
    """
    found: dict[tuple[object, int], MapUse] = {}
    indices: list[int] = []
    images = _images(context)
    for index in range(len(context.series.facts)):
        bumps = [use for use in context.materials(index).maps if _is_wrong(use.map, use.target.path, images)]
        found |= {(use.library, use.map.line): use for use in bumps}
        indices += [index] * bool(bumps)
    if not found:
        raise Refusal("no bump map holds normals (maps with options other than `-bm 1` are not considered)")
    return Step(
        FIX.id,
        {},
        context.numbers(indices),
        f"use `norm` for {count_of(len(found), 'bump map')} that {'hold' if len(found) > 1 else 'holds'} normals",
        tuple(
            Change(f"{use.map.material}, {use.map.name}", use.map.statement.display, "norm") for use in found.values()
        ),
        work=images,
    )


def _images(context: CheckContext) -> frozenset[Path]:
    """Return the paths of images that hold normals and are used as bump maps, but not as colour maps."""
    uses = [use for index in range(len(context.series.facts)) for use in context.materials(index).maps]
    paths = {use.target.path for use in uses if use.map.statement.raw.lower() in BUMP and use.target.path}
    colours = {use.target.path for use in uses if use.map.statement.raw.lower() in COLOUR}
    return frozenset(path for path in paths - colours if path and context.resolver.images.of(path).looks_like_normals)


def _is_wrong(line: MapLine, path: Path | None, images: frozenset[Path]) -> bool:
    return line.statement.raw.lower() in BUMP and is_plain_bump(line) and path in images


def edit_assets(assets: Assets, step: Step[frozenset[Path]], _: CheckContext) -> Assets:
    return assets.edited(lambda entry, _: _restated(entry, step.work))


def _restated(entry: LibraryAsset, images: frozenset[Path]) -> LibraryAsset:
    pairs = zip(entry.library.maps, entry.textures, strict=True)
    wrong = [line for line, texture in pairs if _is_wrong(line, texture.target.path, images)]
    return restated(entry, wrong, b"norm") if wrong else entry


FIX = Fix(
    id="norm-statement",
    title="Use norm for normal maps",
    kind=FixKind.LOSSLESS,
    does="Uses `norm`, the statement for normal maps, for bump maps that hold normals. Maps with options "
    "other than `-bm 1`, the default strength, are unchanged.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.MAP_STATEMENTS}),
    plan=plan,
    whole=True,
    edit_assets=edit_assets,
)
