"""Write the user's statements about a folder, and the chosen fixes, as command-line options."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator, Mapping
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.names import safe
from inspector.rules.find import FILE_NAME, find_rules
from inspector.sequence.discovery.settings import Settings, frame_text


def quoted_word(word: str) -> str:
    """Quote a word of a command line. Bytes that a screen must not show become octal escapes in `$'...'`
    (POSIX.1-2024)."""
    if safe(word) == word:
        return shlex.quote(word)
    shown = (
        char if safe(char) == char and char not in "'\\" else "".join(f"\\{byte:03o}" for byte in os.fsencode(char))
        for char in word
    )
    return f"$'{''.join(shown)}'"


def quoted_path(path: Path) -> str:
    """Quote a path for a command line. A path that begins with `-` gets the prefix `./`."""
    word = str(path)
    return quoted_word(f"./{word}" if word.startswith("-") else word)


def statement_options(settings: Settings) -> Iterator[str]:
    """Yield, as options, all statements that the user made about a folder."""
    yield from folder_options(settings)
    yield from source_options(settings)


def folder_options(settings: Settings) -> Iterator[str]:
    """Yield, as options, the user's statements that apply both to a folder and to its corrected copy."""
    if settings.expected is not None:
        yield f"--frames {stated_range(settings)}"
    if settings.size is not None:
        yield f"--size {stated_size(settings)}"
    for folder in settings.textures:
        yield f"--textures {quoted_path(folder)}"
    if settings.reference is not None:
        yield f"--reference {frame_text(settings.reference)}"


def stated_range(settings: Settings) -> str:
    """Return the stated frame range, as in `1-240`; "" if no range is stated."""
    return "" if settings.expected is None else "-".join(map(frame_text, settings.expected))


def stated_size(settings: Settings) -> str:
    """Return the stated size, as in `1.8`; "" if no size is stated."""
    return "" if settings.size is None else f"{settings.size:.12g}"


def source_options(settings: Settings) -> Iterator[str]:
    """Yield, as options, the user's statements that only fixes need."""
    if settings.uvs_from is not None:
        yield f"--uvs-from {quoted_path(settings.uvs_from)}"
    if settings.invent_at_most is not None:
        yield f"--invent-at-most {settings.invent_at_most}"
    if settings.rate is not None:
        yield f"--fps {settings.rate}"


def judged_options(folder: Path, settings: Settings) -> Iterator[str]:
    """Yield the options on which the verdict depends.

    An option about the rules is included only if the folder's own rules were not applied.
    """
    yield from folder_options(settings)
    stated = settings.rules.file
    try:
        own = find_rules(folder)
    except MeshqcError:  # the rules file is a link out of the folder, and was not applied
        own = folder / FILE_NAME
    if stated is None and own is not None:
        yield "--no-rules"
    elif stated is not None and stated.resolve() != own:
        yield f"--rules {quoted_path(stated)}"


def fix_word(identifier: str, parameters: Mapping[str, object]) -> str:
    """Write a fix and its parameters as a value of `--with` or `--only`, as in `scale:factor=0.01`."""
    pairs = ",".join(
        f"{key}={str(value).lower() if isinstance(value, bool) else value}" for key, value in parameters.items()
    )
    return quoted_word(f"{identifier}:{pairs}" if pairs else identifier)
