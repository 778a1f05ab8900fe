"""Change the text of a delivered library. Maps that stay in the library still lead to the same files."""

from __future__ import annotations

import os
import posixpath
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import replace

from inspector.errors import Refusal
from inspector.fixes.base.assets import LibraryAsset, TextureAsset
from inspector.formats.wavefront.library import Definition, MapLine, read_library
from inspector.formats.wavefront.library_lines import LINE, Statement, joined
from inspector.formats.wavefront.statements import BYTE_ORDER_MARK
from inspector.names import Name

_Edit = tuple[int, int, bytes]
"""Start and stop of a range in the bytes of a library, and the bytes that replace it."""


def without_definitions(entry: LibraryAsset, definitions: Iterable[Definition]) -> LibraryAsset:
    """Return the library without some of its material definitions.

    Args:
        entry: The library.
        definitions: The definitions to remove, all from this library.
    """
    return _edited(entry, [(one.start, one.stop, b"") for one in definitions])


def without_maps(entry: LibraryAsset, maps: Iterable[MapLine]) -> LibraryAsset:
    """Return the library without the lines of some of its maps.

    Args:
        entry: The library.
        maps: The maps to remove, all from this library.
    """
    text, edits = joined(entry.library.data), []
    for one in maps:
        match = LINE.match(text, one.stop)
        edits.append((one.line_start, match.end() if match else len(text), b""))
    return _edited(entry, edits)


def restated(
    entry: LibraryAsset, maps: Iterable[MapLine], keyword: bytes, *, keep_options: bool = False
) -> LibraryAsset:
    """Return the library with a different keyword in the statements of some of its maps.

    Args:
        entry: The library.
        maps: The maps to change, all from this library.
        keyword: The new keyword.
        keep_options: Whether to keep the options before the file names.
    """
    text, edits = joined(entry.library.data), []
    for one in maps:
        options = one.options if keep_options else ()
        start = text.index(one.statement.raw, one.line_start)
        edits.append((start, one.start, b" ".join((keyword, *options, b""))))
    return _edited(entry, edits)


def with_map(entry: LibraryAsset, material: Name, keyword: bytes, texture: TextureAsset) -> LibraryAsset:
    """Return the library with a new map in each definition of a material.

    Args:
        entry: The library.
        material: Name of a material whose definitions contain no map statement with `keyword`.
        keyword: Keyword of the new statement.
        texture: Texture of the map. The statement contains only its file name; `rewritten` adds the folder.

    Raises:
        Refusal: The file name of the texture can't be written in a library.
    """
    library, name = entry.library, os.fsencode(posixpath.basename(texture.place or ""))
    text, edits = joined(library.data), []
    for definition in library.definitions:
        if definition.name == material:
            last = library.statements(definition)[-1]
            line = LINE.match(text, last.rest_start + len(last.rest))
            place, end = (line.end(), line[2]) if line else (len(text), b"")
            edits.append((place, place, b"%s%s %s%s" % (b"" if end else b"\n", keyword, name, end or b"\n")))
    edited = _edited(entry, edits).library
    added = [line for line in edited.maps if line.material == material and line.statement.raw == keyword]
    if len(edited.maps) != len(library.maps) + len(edits) or any(line.name.raw != name for line in added):
        raise Refusal(
            f"a library can't hold the file name `{Name(name)}`, because it would be read as a different name; rename "
            "the file"
        )
    old = iter(entry.textures)
    textures = tuple(texture if line in added else next(old) for line in edited.maps)
    return replace(entry, library=edited, textures=textures, made=True)


def stated_otherwise(entry: LibraryAsset, texts: Mapping[Statement, bytes]) -> LibraryAsset:
    """Return the library with new texts for some of its statements.

    Args:
        entry: The library.
        texts: New texts, with their keywords, by statement.
    """
    data = entry.library.data
    return _edited(
        entry,
        [
            (data.index(one.written, one.line_start), one.rest_start + len(one.rest), text)
            for one, text in texts.items()
        ],
    )


def renamed(entry: LibraryAsset, names: Mapping[Name, Name]) -> LibraryAsset:
    """Return the library with some materials renamed.

    Of several definitions that would have the same name, only one is kept: that of a material that isn't renamed or, if
    there is none, the first.

    Args:
        entry: The library.
        names: New names by old name.
    """
    library, edits = entry.library, []
    taken = set(library.materials) - set(names)
    for definition in library.definitions:
        new = names.get(definition.name)
        if new in taken:
            edits.append((definition.start, definition.stop, b""))
        elif new is not None:
            head = library.statements(definition)[0]
            edits.append((head.rest_start, head.rest_start + len(head.rest), new.raw))
            taken.add(new)
    return _edited(entry, edits)


def extended(entry: LibraryAsset, text: bytes) -> LibraryAsset:
    """Return the library with more lines at the end.

    Args:
        entry: The library.
        text: The lines to add, each with its line ending.
    """
    data = entry.library.data
    joint = b"" if not data or data.endswith((b"\n", b"\r")) else b"\n"
    return _edited(entry, [(len(data), len(data), joint + text)])


def plain(entry: LibraryAsset) -> LibraryAsset:
    """Return the library as UTF-8 without a byte-order mark, with each statement on one line."""
    data = entry.library.data
    library = read_library(joined(data).removeprefix(BYTE_ORDER_MARK))
    return replace(entry, library=library, made=True)


def _edited(entry: LibraryAsset, edits: list[_Edit]) -> LibraryAsset:
    data, at, pieces = entry.library.data, 0, []
    edits.sort()
    for start, stop, text in edits:
        pieces += [data[at:start], text]
        at = stop
    stops = [stop for _, stop, _ in edits]  # edits don't overlap, so their stops are ascending

    def edited(place: int) -> bool:
        after = bisect_right(stops, place)
        return after < len(edits) and edits[after][0] <= place

    maps = zip(entry.library.maps, entry.textures, strict=True)
    kept = [texture for line, texture in maps if not edited(line.start)]
    library = read_library(b"".join([*pieces, data[at:]]))
    return replace(entry, library=library, textures=tuple(kept), made=True)
