"""The textures of a sequence: each image once, with all maps that refer to it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Where
from inspector.checks.base.libraries import Spot, material_states
from inspector.formats.wavefront.library import MapLine
from inspector.names import Name
from inspector.sequence.materials.image_cache import ImageFacts
from inspector.sequence.materials.resolver import MapUse

COLOUR = frozenset((b"map_ka", b"map_kd", b"map_ks", b"map_ke", b"decal"))
"""Keywords, in lower case, of statements whose map is read as colour (MTL File Formats 4.2, 1995; `map_Ke` was added
later).
"""

AMBIENT = frozenset((b"map_ka",))
"""Keyword, in lower case, of the statement whose map gives the ambient colour of a material (MTL File Formats 4.2,
1995).
"""

BUMP = frozenset((b"bump", b"map_bump"))
"""Keywords, in lower case, of statements whose map is read as height (MTL File Formats 4.2, 1995; `map_bump` was added
later).
"""

NORMAL = frozenset((b"norm",))
"""Keyword, in lower case, of the statement whose map is read as normals. The statement is a later addition to the
format (common practice, no source).
"""


@dataclass(frozen=True, slots=True)
class Usage:
    """A map statement of a material that is assigned to faces.

    Attributes:
        library: Path of the library that contains the statement, relative to the inspected folder.
        map: The statement, and the image that it refers to.
        indices: Indices of the frames that use the material.
    """

    library: Name
    map: MapUse
    indices: list[int]

    @property
    def keyword(self) -> bytes:
        return self.map.map.statement.raw.lower()

    @property
    def spot(self) -> Spot:
        """The location of the statement, and the frames that use the material."""
        line = self.map.map
        return Spot(Where(self.library, line.line, f"{line.statement} of {line.material}"), self.indices)


@dataclass(frozen=True, slots=True)
class Texture:
    """An image to which a map of a material in use refers.

    Attributes:
        path: Path of the image. If the image is inside a frame's file, no file has this path.
        file: The path relative to the inspected folder.
        facts: The known properties of the image.
        usages: The map statements that refer to the image.
        inside: Whether the image is inside a frame's file.
    """

    path: Path
    file: Name
    facts: ImageFacts
    usages: list[Usage] = field(default_factory=list)
    inside: bool = False

    def used_as(self, keywords: frozenset[bytes]) -> list[Usage]:
        """Return the usages that have one of these keywords (in lower case)."""
        return [usage for usage in self.usages if usage.keyword in keywords]


def textures(context: CheckContext) -> list[Texture]:
    """Return the images that were found, without duplicates.

    Raises:
        NotApplicable: The materials in use have no maps, or no image was found.
    """
    usages(context)
    found = context.once(_textures)
    if not found:
        raise NotApplicable("no texture was found")
    return found


def _textures(context: CheckContext) -> list[Texture]:
    found: dict[Path, Texture] = {}
    for usage in context.once(_usages):
        target, place = usage.map.target, usage.map.place
        paths = target.files if target.token else (() if place is None else (place,))
        for path in paths:
            if path not in found:
                inside = usage.map.target.path is None
                file = context.resolver.scope.relative(path)
                found[path] = Texture(path, file, context.resolver.images.of(path), inside=inside)
            found[path].usages.append(usage)
    return list(found.values())


def normal_maps(context: CheckContext) -> list[Texture]:
    """Return the textures in `norm` statements, and those in bump statements if they look like normal maps.

    Raises:
        NotApplicable: The materials in use have no maps, or no image was found.
    """
    return [
        one for one in textures(context) if one.used_as(NORMAL) or (one.used_as(BUMP) and one.facts.looks_like_normals)
    ]


def misplaced_colours(found: list[Texture]) -> list[Usage]:
    """Return, for each material without `map_Kd`, the first statement that uses a coloured image as another kind of
    map.

    The image is used as an ambient map, or as a normal map although its colours can't be normals.
    """
    coloured = {usage.map.map.material for one in found for usage in one.usages if usage.keyword == b"map_kd"}
    misplaced: dict[Name, Usage] = {}
    for one in found:
        facts = one.facts
        if facts.decoded and not facts.grey and not facts.one_colour and not facts.looks_like_normals:
            for usage in one.used_as(AMBIENT | NORMAL if facts.is_no_normal_map else AMBIENT):
                if usage.map.map.material not in coloured:
                    misplaced.setdefault(usage.map.map.material, usage)
    return list(misplaced.values())


def is_plain_bump(line: MapLine) -> bool:
    """Whether a bump map has no options, or only the default strength (`-bm 1`). Such a map can become a `norm` map."""
    return line.options in ((), (b"-bm", b"1"), (b"-bm", b"1.0"))


def spots(chosen: Iterable[Texture]) -> Iterator[Spot]:
    """Return the location of each map statement that refers to one of these textures, and the frames that use the
    statement's material.
    """
    return (usage.spot for texture in chosen for usage in texture.usages)


def usages(context: CheckContext) -> list[Usage]:
    """Return all maps of the materials in use, without duplicates, including maps whose image was not found.

    Raises:
        NotApplicable: There is no such map.
    """
    met = context.once(_usages)
    if not met:
        raise NotApplicable("the materials have no maps")
    return met


def _usages(context: CheckContext) -> list[Usage]:
    met: dict[tuple[Name, int], Usage] = {}
    scope = context.resolver.scope
    for state in material_states(context):
        files = {use.name: scope.relative(use.target.path) for use in state.materials.libraries if use.target.path}
        for use in state.materials.maps:
            usage = met.setdefault((files[use.library], use.map.start), Usage(files[use.library], use, []))
            usage.indices.extend(state.indices)
    return list(met.values())
