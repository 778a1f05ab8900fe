"""Convert facts to JSON and back, for the cache and for parts of a sequence that other machines measure."""

from __future__ import annotations

from functools import cache
from typing import Any, get_type_hints

from inspector.formats.frame import LibraryLine
from inspector.formats.problems import Place, Problem
from inspector.names import Name
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.facts import FileBeside, FrameFacts
from inspector.sequence.measure.motion_facts import Leap

MEASUREMENT = 26
"""Version of the measurements and of their form in JSON. Increase it with any change to FrameFacts, to a reader or to a
measurement, so that frames are measured again."""

_PLAIN = (
    *("readable", "vertices", "uvs", "normals", "faces", "faces_without_uvs"),
    *("step", "still", "roughness", "decimals", "line_end", "fixed_decimals"),
    *(
        "components",
        "boundary_edges",
        "non_manifold_edges",
        "opposed_edges",
        "unused_vertices",
        "edge_length",
        "area",
        "volume",
    ),
    *("faces_without_normals", "uv_tiles", "uv_mirrored", "uv_overlap", "uv_step", "format", "colours"),
)
_BYTES = (
    *("topology", "face_materials", "uv_indices", "uv_values", "header", "smoothing", "face_set", "sample"),
    *("relief", "library", "image_digest"),
)
_NUMBERS = ("box", "uv_box", "moments")
_LEAPS = ("leap", "tear", "bump")
_NAMES = ("objects", "materials", "groups", "images")


def facts_to_json(facts: FrameFacts) -> dict[str, Any]:
    """Convert facts to JSON, without the number and the file of the frame. Floats lose no precision (repr)."""
    document: dict[str, Any] = {key: getattr(facts, key) for key in _PLAIN}
    document |= {key: getattr(facts, key).hex() for key in _BYTES}
    document |= {key: [name.text for name in getattr(facts, key)] for key in _NAMES}
    for key in _LEAPS:
        leap = getattr(facts, key)
        document[key] = leap and [leap.vertex, list(leap.displacement), leap.alike]
    document |= {key: (numbers := getattr(facts, key)) and list(numbers) for key in _NUMBERS}
    document["first_face_without_uvs"] = facts.first_face_without_uvs and _place(facts.first_face_without_uvs)
    document["beside"] = [[other.name.text, other.state] for other in facts.beside]
    document["libraries"] = [[line.name.text, line.line] for line in facts.libraries]
    document["problems"] = [
        [problem.kind, problem.count, [_place(place) for place in problem.places]] for problem in facts.problems
    ]
    return document


def facts_from_json(document: dict[str, Any], file: FrameFile) -> FrameFacts:
    """Read facts that `facts_to_json` wrote.

    Args:
        document: The JSON document.
        file: The file that was measured.

    Raises:
        KeyError, TypeError, ValueError: The document has a different form.
    """
    values: dict[str, Any] = {key: _plain(key, document[key]) for key in _PLAIN}
    values |= {key: bytes.fromhex(document[key]) for key in _BYTES}
    values |= {key: tuple(_name(text) for text in document[key]) for key in _NAMES}
    values |= {key: None if document[key] is None else tuple(map(float, document[key])) for key in _NUMBERS}
    values |= {key: document[key] and _leap(*document[key]) for key in _LEAPS}
    first = document["first_face_without_uvs"]
    return FrameFacts(
        number=file.number,
        file=file,
        first_face_without_uvs=None if first is None else _place_from(first),
        beside=tuple(_beside(*pair) for pair in document["beside"]),
        libraries=tuple(LibraryLine(_name(text), line) for text, line in document["libraries"]),
        problems=tuple(
            Problem(kind, count, tuple(_place_from(place) for place in places))
            for kind, count, places in document["problems"]
        ),
        **values,
    )


@cache
def _types() -> dict[str, Any]:
    return get_type_hints(FrameFacts)


def _plain(key: str, value: object) -> object:
    """Return a value if it has the type of the field `key`. A whole number is accepted as a float.

    Raises:
        TypeError: The value has a different type.
    """
    expected = _types()[key]
    if isinstance(value, expected) and not (isinstance(value, bool) and expected is not bool):
        return value
    if type(value) is int and expected in (float, float | None):
        return value
    raise TypeError(f"{key}: {type(value).__name__}")


def _beside(name: str, state: list[int] | None) -> FileBeside:
    if state is None:
        return FileBeside(_name(name), None)
    size, modified, changed, inode = map(int, state)
    return FileBeside(_name(name), (size, modified, changed, inode))


def _leap(vertex: int, displacement: list[float], alike: int) -> Leap:
    x, y, z = displacement
    return Leap(vertex, (x, y, z), alike)


def _place(place: Place) -> list[Any]:
    return [place.line, place.element, None if place.text is None else place.text.text]


def _place_from(place: list[Any]) -> Place:
    line, element, text = place
    return Place(line, element, None if text is None else _name(text))


def _name(text: str) -> Name:
    if not isinstance(text, str):
        raise TypeError(f"name: {type(text).__name__}")
    return Name(text.encode("utf-8", "surrogateescape"))
