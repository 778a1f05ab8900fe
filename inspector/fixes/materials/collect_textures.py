"""Repair texture paths, and deliver the textures with the frames."""

from __future__ import annotations

import posixpath
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import count

from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, TextureAsset, free_path, is_misplaced
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.names import Name
from inspector.sequence.materials.resolver import MapUse

_FOLDER = "textures"


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the maps whose texture is outside the inspected folder, or isn't exactly at the path that the library
    states.

    Raises:
        Refusal: There is no such map. Maps for which more than one file fits don't count.
    """
    indices: list[int] = []
    uses: dict[tuple[object, object], MapUse] = {}
    unclear: Name | None = None
    for index in range(len(context.series.facts)):
        for use in context.materials(index).maps:
            unclear = unclear or (use.map.name if use.target.rivals else None)
            if is_misplaced(use.target, context):
                uses.setdefault((use.library, use.map.name), use)
                indices.append(index)
    if not uses:
        why = (
            f"more than one file matches the texture name `{unclear}`; in the material library, state the path of the "
            "right file"
            if unclear is not None
            else "no texture that was found needs to be copied"
        )
        raise Refusal(why)
    names = {str(use.target.path): use for use in uses.values()}
    return Step(
        FIX.id,
        {"textures": [use.map.name.text for use in uses.values()]},
        context.numbers(indices),
        f"copy {count_of(len(names), 'texture')} into {_FOLDER}/ and point the maps to "
        f"{'the copy' if len(names) == 1 else 'the copies'}",
        tuple(map(_change, uses.values())),
        work=None,
    )


def _change(use: MapUse) -> Change:
    assert use.target.path is not None
    new = Name.from_path(posixpath.join(_FOLDER, use.target.path.name))
    return Change(f"{use.map.statement} of {use.map.material}", use.map.name.display, new.display)


def edit_assets(assets: Assets, _: Step[None], context: CheckContext) -> Assets:
    """Put the textures into a folder beside their library, where every reader finds them."""
    taken = dict(_textures(assets))
    libraries = {}
    for place, entry in assets.libraries.items():
        folder = posixpath.join(posixpath.dirname(place), _FOLDER)
        textures = tuple(_placed(texture, folder, taken, context) for texture in entry.textures)
        libraries[place] = replace(entry, textures=textures)
    return Assets(libraries)


def _placed(texture: TextureAsset, folder: str, taken: dict[str, object], context: CheckContext) -> TextureAsset:
    path = texture.target.path
    if texture.place is not None or path is None or not is_misplaced(texture.target, context):
        return texture
    if not texture.target.tiles:
        place = free_path(folder, path.name, lambda one: taken.get(one, path) != path)
        taken[place] = path
        return TextureAsset(texture.target, place)
    # Tiles keep their names, which contain their numbers. If another file has such a name, they get a new folder.
    for number in count(1):
        moved = TextureAsset(texture.target, posixpath.join(f"{folder}{number if number > 1 else ''}", path.name))
        places = dict(zip((place for place, _ in moved.files()), texture.target.files, strict=True))
        if all(taken.get(place, source) == source for place, source in places.items()):
            break
    taken.update(places)
    return moved


def _textures(assets: Assets) -> Iterator[tuple[str, object]]:
    for entry in assets.libraries.values():
        for texture in entry.textures:
            for place, file in texture.files():
                yield place, next(iter(file.sources), None)


FIX = Fix(
    id="collect-textures",
    title="Repair texture paths",
    kind=FixKind.LOSSLESS,
    does="Copies textures into textures/ beside the library if they are outside the inspected folder, or not exactly "
    "at the path that the library states. Points the maps to the copies. Options after a file name are moved in front "
    "of it, and a comment after a file name becomes a separate line.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.TEXTURES}),
    plan=plan,
    whole=True,
    edit_assets=edit_assets,
)
