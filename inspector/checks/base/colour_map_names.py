"""Find images that no map refers to, although their names suggest that they are colour maps."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from pathlib import Path

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.libraries import UsedMaterial, used_libraries, used_materials
from inspector.checks.base.textures import misplaced_colours, textures
from inspector.formats.wavefront.library import MapLine
from inspector.names import Name
from inspector.sequence.materials.image_cache import ENDINGS

_FOLDERS = ("", "textures", "texture", "tex", "maps", "images")
"""Folders that may contain a library's images, relative to the library's folder (common practice, no source)."""

_COLOUR = frozenset(("albedo", "base", "basecolor", "basecolour", "color", "colour", "col", "diff", "diffuse"))
"""Words in an image's name that indicate a colour map (common practice, no source)."""

_OTHER = frozenset(("bump", "height", "metallic", "metalness", "nor", "normal", "normals", "nrm", "rough", "roughness"))
"""Words in an image's name that indicate a map of a different kind (common practice, no source)."""

_WORD = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+|[^\W\d_a-zA-Z]+")

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnnamedMap:
    """A used material without a colour map, and the images that could be its colour map.

    Attributes:
        material: The material.
        library: Path of the library that defines the material.
        images: The images with fitting names.
    """

    material: UsedMaterial
    library: Path
    images: tuple[Path, ...]


def unnamed_colour_maps(context: CheckContext) -> list[UnnamedMap]:
    """Find materials that have no colour map although an image with a fitting name is in the folder of their library.

    The image must be decodable, have more than one colour, and not look like a normal map.

    Raises:
        NotApplicable: No library was found.
    """
    libraries = {one.file: one for one in used_libraries(context)}
    materials = used_materials(context)
    coloured = {one.definition.name for one in materials if one.last(b"map_kd") is not None} | _misplaced(context)
    lines = [line for one in libraries.values() if one.library is not None for line in one.library.maps]
    beside: dict[Path, _Images] = {}
    found = []
    for material in materials:
        if material.definition.name in coloured:
            continue
        library = libraries[material.file].path
        if library.parent not in beside:
            beside[library.parent] = _Images.beside(library.parent, lines, context)
        images = beside[library.parent].of(material.definition.name)
        fitting = tuple(path for path in images if _is_colour(context, path))
        if fitting:
            found.append(UnnamedMap(material, library, fitting))
    return found


def _misplaced(context: CheckContext) -> set[Name]:
    """Return the names of materials whose colour map is in the wrong statement (see `colour-map-slot`)."""
    try:
        return {usage.map.map.material for usage in misplaced_colours(textures(context))}
    except NotApplicable:
        return set()


def _is_colour(context: CheckContext, path: Path) -> bool:
    facts = context.resolver.images.of(path)
    return facts.decoded and not facts.one_colour and not facts.looks_like_normals


@dataclass(frozen=True, slots=True)
class _Images:
    """Images in a library's folder and its usual subfolders, except those that a map refers to.

    Attributes:
        by_name: Images by the words in their names.
        by_subject: Images whose names contain a word for colour, by the other words in their names.
        maps: For each material, the words in the file name of each of its maps.
    """

    by_name: Mapping[Words, list[Path]]
    by_subject: Mapping[Words, list[Path]]
    maps: Mapping[Name, list[Words]]

    @classmethod
    def beside(cls, folder: Path, lines: Sequence[MapLine], context: CheckContext) -> _Images:
        """Find the images in a library's folder and its usual subfolders; `lines` are the map statements in use."""
        maps, by_name, by_subject = defaultdict(list), defaultdict(list), defaultdict(list)
        taken = set()
        for line in lines:
            path = Path(line.name.text.replace("\\", "/"))
            taken.add(path.name.casefold())
            maps[line.material].append(_words(path.stem))
        for path in _files(folder, context):
            if path.name.casefold() not in taken:
                words = _words(path.stem)
                by_name[words].append(path)
                if _COLOUR & {*words}:
                    by_subject[_without(words, _COLOUR)].append(path)
        return cls(by_name, by_subject, maps)

    def of(self, material: Name) -> list[Path]:
        """Return the images whose names fit a material.

        If any of these names contain a word for colour, only the images with such names are returned.
        """
        words = _words(material.text)
        subjects = {_without(words, _COLOUR), *(_without(one, _COLOUR | _OTHER) for one in self.maps.get(material, []))}
        found = [path for subject in subjects if subject for path in self.by_subject.get(subject, [])]
        return sorted({*found}) or sorted(self.by_name.get(words, []))


def _files(folder: Path, context: CheckContext) -> Iterator[Path]:
    """Yield the images in a library's folder and its usual subfolders, except those outside the inspected folder."""
    scope = context.resolver.scope
    for name in _FOLDERS:
        place = folder / name
        if place.is_relative_to(scope.roots[0]) and scope.contains(place) and place.is_dir():
            yield from (place / one for one in scope.names_in(place) if Path(one).suffix.lower() in ENDINGS)


def _words(name: str) -> Words:
    """Split a name into words in lower case. `SkinBaseColor` and `skin_base-color` have the same words."""
    return tuple(word.casefold() for word in _WORD.findall(name))


def _without(words: Words, dropped: Set[str]) -> Words:
    return tuple(word for word in words if word not in dropped)
