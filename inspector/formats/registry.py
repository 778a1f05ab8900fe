"""All formats of mesh files, collected from FORMATS in each module of inspector/formats/files."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

import inspector.formats.files
from inspector.formats.format import Content, Format

_RECOGNISED_BYTES = 1 << 14
"""Number of bytes at the start of a file from which its format is recognised; a long comment may come first."""


@cache
def all_formats() -> tuple[Format, ...]:
    """Return all formats, in the order of their modules' names.

    Raises:
        ValueError: Two formats have the same id or extension.
    """
    formats: list[Format] = []
    for module in pkgutil.iter_modules(inspector.formats.files.__path__):
        formats += importlib.import_module(f"inspector.formats.files.{module.name}").FORMATS
    for words in ([one.id for one in formats], [ending for one in formats for ending in one.endings]):
        if len(set(words)) != len(words):
            raise ValueError(f"two formats have the same id or extension: {words}")
    return tuple(formats)


def format_by_id(identifier: str) -> Format:
    """Return the format with the given id.

    Raises:
        KeyError: No format has that id.
    """
    return _by_id()[identifier]


@cache
def _by_id() -> dict[str, Format]:
    return {one.id: one for one in all_formats()}


@cache
def by_ending() -> dict[bytes, Format]:
    """The formats of frame files by file name extension, in lower case and with the dot."""
    return {ending: one for one in all_formats() for ending in one.endings if one.scene is None}


@cache
def animations_by_ending() -> dict[bytes, Format]:
    """The formats of scene files by file name extension, in lower case and with the dot."""
    return {ending: one for one in all_formats() for ending in one.endings if one.scene is not None}


def format_of(data: Content, ending: bytes) -> Format:
    """Determine the format of a frame file from its content or, if that is not recognised, from its file name
    extension.

    Args:
        data: The whole file.
        ending: File name extension, with the dot, in any letter case.

    Returns:
        The format: that of the extension if several formats recognise the content, and OBJ if neither the content nor
        the extension is known.
    """
    head = data[:_RECOGNISED_BYTES]
    named = by_ending().get(ending.lower())
    if named is not None and named.recognises(head, len(data)):
        return named
    found = next((one for one in by_ending().values() if one.recognises(head, len(data))), None)
    return found or named or format_by_id("obj")
