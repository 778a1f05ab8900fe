"""Format caption versions as text: a single value as a user types it, or a complete captions file."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.lettering.caption_file import DEFAULTS, KEYS, Version
from inspector.sequence.discovery.settings import frame_text


def typed(version: Version, key: str, folder: Path) -> str:
    """Format the value of a key as text that `with_typed` reads; "" for the key's default value.

    Args:
        version: The version.
        key: One of KEYS.
        folder: Folder to which paths are relative.
    """
    value = getattr(version, key)
    if value == getattr(DEFAULTS, key):
        return ""
    if key == "texts":
        return " | ".join(value)
    if key == "box" and isinstance(value, tuple):
        return " ".join(map(str, value))
    return str(_stated(key, value, folder))


def captions_toml(versions: Sequence[Version], folder: Path) -> str:
    """Convert caption versions to the text of a captions file. `read_captions` reads the same versions from this file.

    Args:
        versions: The versions, in order.
        folder: Folder of the captions file, with all links resolved. Paths in the file are relative to this folder.

    Raises:
        MeshqcError: The path of a font or a base map is not UTF-8 text.
    """
    tables = []
    for version in versions:
        lines = ["[[version]]"]
        for key in KEYS:
            value = getattr(version, key)
            if value != getattr(DEFAULTS, key):
                lines.append(f"{key} = {_toml(_stated(key, value, folder))}")
        tables.append("\n".join(lines) + "\n")
    text = "\n".join(tables)
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise MeshqcError(
            "the path of a font or a base map is not UTF-8 text, which TOML requires; rename the file or its folder"
        ) from error
    return text


def _stated(key: str, value: object, folder: Path) -> object:
    """Convert a value of `Version` to a value in a captions file."""
    if isinstance(value, Path):
        return os.path.relpath(value, folder).replace(os.sep, "/")
    if key in ("colour", "outline") and isinstance(value, tuple):
        return "#{:02x}{:02x}{:02x}".format(*value)
    if key == "frames" and isinstance(value, tuple):
        return "-".join(frame_text(number) for number in value if isinstance(number, Fraction))
    if key == "box" and isinstance(value, int):
        return f"island {value}"
    return value


def _toml(value: object) -> str:
    """Format a value as TOML.

    Strings are written as JSON strings in which U+007F is escaped too. These are valid basic strings (TOML 1.0,
    "String").
    """
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
