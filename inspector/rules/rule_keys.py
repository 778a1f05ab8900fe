"""The requirements that a rules file can state: one table for reading, messages and the commented template."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from inspector.rules import values
from inspector.units import METRES


@dataclass(frozen=True, slots=True)
class RuleKey:
    """A key of a rules file.

    Attributes:
        name: Section and key, such as "mesh.corners".
        read: Converts the TOML value to the value of a Demand; raises ValueError if the value is wrong.
        allowed: Description of the expected value, for messages.
        meaning: The requirement in words, for the commented template.
        example: An example of the value, in TOML.
    """

    name: str
    read: Callable[[object], object]
    allowed: str
    meaning: str
    example: str


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 1:
        raise ValueError
    return value


def _wholes(value: object) -> tuple[int, ...]:
    if not isinstance(value, list) or not value or min(map(_whole, value)) < 3:
        raise ValueError
    return tuple(value)


def _texts(value: object) -> tuple[str, ...]:
    if not isinstance(value, list) or not value or not all(isinstance(one, str) and one for one in value):
        raise ValueError
    return tuple(value)


def _word(words: tuple[str, ...], value: object) -> str:
    if value not in words:
        raise ValueError
    return str(value)


def _true(value: object) -> bool:
    if value is not True:
        raise ValueError
    return True


def _number(value: object) -> float:
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise ValueError
    return values.positive(str(value))


def _between(low: float, high: float, value: object) -> float:
    number = _number(value)
    if not low <= number <= high:
        raise ValueError
    return number


def _bits(value: object) -> tuple[int, ...]:
    if not isinstance(value, list) or not value or not all(one in (1, 2, 4, 8, 16, 32) for one in value):
        raise ValueError
    return tuple(int(one) for one in value)


def _map_kinds(value: object) -> tuple[str, ...]:
    kinds = _texts(value)
    if not set(kinds) <= set(MAP_KINDS):
        raise ValueError
    return kinds


def _length(value: object) -> object:
    """Read a length: a number of scene units, or text with a unit.

    Text is returned unchanged, because it can be converted only when the unit of the scene is known.
    """
    if isinstance(value, str):
        values.metres(value)
        return value
    return _number(value)


def _sides(value: object) -> tuple[float, ...]:
    if not isinstance(value, list) or len(value) != 3:
        raise ValueError
    return tuple(map(_number, value))


def _text(read: Callable[[str], object], value: object) -> object:
    if not isinstance(value, str):
        raise ValueError
    return read(value)


MAP_KINDS = ("colour", "normal", "height", "roughness", "metalness", "specular", "emission", "opacity")
"""Kinds of maps that rules can require."""

_factor = partial(_between, 1.0, 100.0)
_ratio = partial(_between, 1.0, 21.0)
_PRESENCE = ("required", "forbidden")
_HOW_MANY = "a whole number of at least 1"
_ALLOWED_PRESENCE = '"required" or "forbidden"'
_LENGTH = 'a number of scene units, or a length such as "1.8 m"'

_TABLE = (
    RuleKey("frames.range", partial(_text, values.frame_range), 'a frame range such as "1-240"',
        "first and last frame; all frames between them must exist, and no other frames may exist", '"1-240"'),
    RuleKey("frames.rate", lambda value: values.rate(str(value)), 'a frame rate such as 24 or "24000/1001"',
        "frames per second, for the hand-off note", "24"),
    RuleKey("frames.padding", _whole, _HOW_MANY, "number of digits of a frame number in file names", "4"),
    RuleKey("frames.most", _whole, _HOW_MANY, "maximum number of frames", "500"),
    RuleKey("frames.most_bytes", _whole, _HOW_MANY, "maximum size of all frames together, in bytes", "20_000_000_000"),
    RuleKey("mesh.corners", _wholes, "a list of whole numbers, each at least 3, such as [3, 4]",
        "numbers of corners that a face may have", "[3, 4]"),
    RuleKey("mesh.vertices", _whole, _HOW_MANY, "number of vertices of every frame", "600"),
    RuleKey("mesh.faces", _whole, _HOW_MANY, "number of faces of every frame", "598"),
    RuleKey("mesh.most_vertices", _whole, _HOW_MANY, "maximum number of vertices of a frame", "2_000_000"),
    RuleKey("mesh.most_bytes", _whole, _HOW_MANY, "maximum size of a frame's file, in bytes", "200_000_000"),
    RuleKey("mesh.uvs", partial(_word, _PRESENCE), _ALLOWED_PRESENCE,
        "required: every face must have UVs; forbidden: no face may have UVs", '"required"'),
    RuleKey("mesh.normals", partial(_word, _PRESENCE), _ALLOWED_PRESENCE,
        "required: every face must have normals; forbidden: no face may have normals", '"required"'),
    RuleKey("mesh.materials", partial(_word, _PRESENCE), _ALLOWED_PRESENCE,
        "required: every face must have a material; forbidden: no face may have a material", '"required"'),
    RuleKey("mesh.material_names", _texts, "a list of names in quotation marks",
        "the only materials that faces may have", '["manta_skin"]'),
    RuleKey("scene.unit", partial(_word, tuple(METRES)), "one of " + ", ".join(f'"{unit}"' for unit in METRES),
        "the unit of the scene", '"m"'),
    RuleKey("scene.size", _length, _LENGTH, "longest side of the object in the reference frame", '"2.5 m"'),
    RuleKey("scene.up", partial(_word, ("x", "y", "z")), '"x", "y" or "z"',
        "the up axis, recognised by the object's height", '"y"'),
    RuleKey("scene.height", _length, _LENGTH, "the object's size along the up axis in the reference frame", '"0.4 m"'),
    RuleKey("scene.sides", _sides, "a list of three numbers above 0, for x, y and z",
        "lengths of the object's sides in scene units, to find swapped axes",
        "[2.54, 0.38, 2.23]"),
    RuleKey("textures.maps", _map_kinds, f"a list of map kinds ({', '.join(MAP_KINDS)})",
        "required maps", '["colour", "normal", "roughness"]'),
    RuleKey("textures.least_side", _whole, _HOW_MANY, "minimum length of a texture's shorter side, in pixels", "1024"),
    RuleKey("textures.equal_size", _true, "true", "maps of one material must have the same size", "true"),
    RuleKey("textures.aspect_within", _factor, "a number from 1 to 100",
        "maximum factor between the aspect ratio of a map and the ratio that its surface requires", "1.1"),
    RuleKey("textures.bits", _bits, "a list of bits per channel (1, 2, 4, 8, 16, 32), such as [8, 16]",
        "bits per channel that a texture may have", "[8, 16]"),
    RuleKey("textures.colour_spaces", _texts, "a list of names in quotation marks",
        "names of colour spaces; the file name of every texture must contain one of them", '["srgb", "raw"]'),
    RuleKey("textures.normal_green", partial(_word, ("up", "down")), '"up" or "down"',
        "direction of the green channel in normal maps (a map that doesn't show the direction is not checked)", '"up"'),
    RuleKey("textures.most_side", _whole, _HOW_MANY, "maximum length of a texture's longer side, in pixels", "4096"),
    RuleKey("textures.power_of_two", _true, "true", "sides of textures, in pixels, must be powers of two", "true"),
    RuleKey("captions.readable", _true, "true",
        "every caption version in captions.toml must fit, and be readable in its frames", "true"),
    RuleKey("captions.least_height", _whole, _HOW_MANY, "minimum height of capitals in the picture, in pixels", "20"),
    RuleKey("captions.least_contrast", _ratio, "a number from 1 to 21",
        "minimum contrast between letters and their background", "4.5"),
    RuleKey("captions.picture", partial(_text, values.picture_size), 'a size in pixels, such as "1920x1080"',
        "size of the picture in which captions are judged; scene.up states the up axis", '"1280x720"'),
)  # fmt: skip

KEYS = {key.name: key for key in _TABLE}
"""Keys by name, in the order of the commented template."""

SECTIONS = tuple(dict.fromkeys(name.partition(".")[0] for name in KEYS))
"""Names of the tables of a rules file, except "checks"."""
