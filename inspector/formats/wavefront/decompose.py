"""Convert an OBJ frame and its materials to a mesh, which can be written in other formats."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence

from inspector.formats.frame import Frame
from inspector.formats.mesh import Image, LeftOut, Map, Material, Mesh, Part, Slot
from inspector.formats.wavefront.compose import CHANNELS, SLOTS
from inspector.formats.wavefront.library import Library
from inspector.formats.wavefront.map_options import is_number
from inspector.formats.wavefront.opacity import lone_tr, number_of, opacity_of
from inspector.names import Name


def mesh_of(frame: Frame, materials: tuple[Material, ...] = ()) -> Mesh:
    """Convert a frame to a mesh. Each run of faces becomes a part. Only the first two numbers of each UV are kept.

    Args:
        frame: The frame. The mesh uses the frame's arrays without copying them.
        materials: The materials of the mesh.
    """
    parts = tuple(Part(run.start, run.stop, run.object, run.material) for run in frame.runs)
    return Mesh(frame.positions, frame.corners, frame.uvs[:, :2], frame.normals, parts, materials, frame.colours)


def materials_of(library: Library, images: Mapping[int, Image]) -> Iterator[tuple[Material, tuple[LeftOut, ...]]]:
    """Convert the materials of a library. If a material repeats a statement, the last statement applies.

    Args:
        library: The library.
        images: Texture of each map that has a file, by the byte at which the name of the map starts in the library.

    Yields:
        Each material, and the properties that can't be carried over.
    """
    starts = [line.start for line in library.maps]
    for definition in library.definitions:
        statements = library.statements(definition)
        said = {one.keyword: one.rest.split() for one in statements}
        own = library.maps[bisect_left(starts, definition.start) : bisect_left(starts, definition.stop)]
        lines = {line.statement.raw.lower(): line for line in own}
        maps, slight, left = [], [statement for statement in _NOT_CARRIED if statement in said], list[bytes]()
        for statement, line in lines.items():
            image, slot = images.get(line.start), SLOTS.get(statement)
            if slot is None:
                left.append(line.statement.raw)
            elif image is None:
                left.append(line.statement.raw + b" (file not found)")
            else:
                read, unread = _map(slot, image, line.options)
                maps.append(read)
                left += [line.statement.raw + b" " + option for option in unread]
        unclear = lone_tr(statements)
        if unclear is not None:
            left.append(b"Tr %b without d (converted to an opacity of %.4g)" % (unclear.rest, opacity_of(statements)))
        words = ", ".join(dict.fromkeys(Name(one).display for one in [*slight, *left]))
        yield (
            Material(
                definition.name,
                _colour(said.get(b"kd", [])),
                opacity_of(statements),
                _share(said.get(b"pr", [])),
                _share(said.get(b"pm", [])),
                _colour(said.get(b"ke", [])),
                tuple(sorted(maps, key=lambda one: list(Slot).index(one.slot))),
                number_of(unclear),
            ),
            (LeftOut(f"material {definition.name.display}: {words}", seen=bool(left)),) if words else (),
        )


_NOT_CARRIED = tuple(b"ka ks ns ni tf illum sharpness ps pc pcr aniso anisor".split())
"""Statements, in lower case, that are not carried over to other formats."""


def _map(slot: Slot, image: Image, options: Sequence[bytes]) -> tuple[Map, list[bytes]]:
    """Convert a map and the options that other formats support.

    Returns:
        The map, and the left-out options that change the picture.
    """
    channel, strength, clamp, unread, at = "", 1.0, False, [], 0
    while at < len(options):
        stop = at + 1
        while stop < len(options) and (is_number(options[stop]) or not options[stop].startswith(b"-")):
            stop += 1
        option, words = options[at].lower(), list(options[at + 1 : stop])
        if option == b"-imfchan" and words and words[0] in _CHANNELS:
            channel = _CHANNELS[words[0]]
        elif option == b"-bm" and slot is Slot.NORMAL and words and is_number(words[0]):
            strength = float(words[0])
        elif option == b"-clamp":
            clamp = words == [b"on"]
        elif option not in _OF_NO_CONSEQUENCE and not _changes_nothing(slot, option, words):
            unread.append(b" ".join([options[at], *words]))
        at = stop
    return Map(slot, image, channel, strength, clamp), unread


def _changes_nothing(slot: Slot, option: bytes, words: Sequence[bytes]) -> bool:
    """Return whether an option has its default value (MTL File Formats 4.2, 1995).

    For `-colorspace`, a later extension, the default is sRGB for colours, otherwise linear (common practice, no
    source).
    """
    if option == b"-colorspace":
        usual = (b"srgb",) if slot in (Slot.COLOUR, Slot.EMISSIVE) else (b"linear", b"raw", b"non-color")
        return len(words) == 1 and words[0].lower() in usual
    if option == b"-imfchan":
        return list(words) == [b"l"]
    plain = {b"-o": {0.0}, b"-t": {0.0}, b"-s": {1.0}, b"-bm": {1.0}}.get(option)
    values = [float(word) for word in words if is_number(word)]
    return values == [0.0, 1.0] if option == b"-mm" else plain is not None and set(values) <= plain


_CHANNELS = {letter: channel for channel, letter in CHANNELS.items()}
_OF_NO_CONSEQUENCE = frozenset((b"-blendu", b"-blendv", b"-cc", b"-boost", b"-texres", b"-type"))
"""Options that are left out without a report: they affect only filtering, resolution, colour correction or the kind of
a reflection map (`-type`).
"""


def _share(words: list[bytes]) -> float | None:
    """Return the first word as a number, limited to the range from 0 to 1; None if it is missing or not a number."""
    return min(max(float(words[0]), 0.0), 1.0) if words and is_number(words[0]) else None


def _colour(words: list[bytes]) -> tuple[float, float, float] | None:
    """Convert the words `r [g b]` to red, green and blue. If green or blue is missing, both equal red. Return None if
    there are no words, or a word is not a number.
    """
    if not words or not all(map(is_number, words[:3])):
        return None
    numbers = [float(word) for word in words[:3]]
    return (numbers[0], numbers[1], numbers[2]) if len(numbers) == 3 else (numbers[0],) * 3
