"""Quote the words of a command line that is printed for copying."""

from __future__ import annotations

import os
import shlex
from pathlib import Path

from inspector.cli.registry import named_commands
from inspector.names import safe


def quoted(path: Path) -> str:
    """Quote a path for a command line, so that it is never taken for a command or an option, and is safe to show."""
    word = str(path)
    return quoted_word(f"./{word}" if word in named_commands() or word.startswith("-") else word)


def quoted_word(word: str) -> str:
    """Quote a word of a command line, so that it is safe to show on any screen.

    Bytes that a screen must not show are written in octal in `$'...'`, which POSIX.1-2024 defines and bash, zsh and ksh
    have long supported.
    """
    if safe(word) == word:
        return shlex.quote(word)
    shown = (
        char if safe(char) == char and char not in "'\\" else "".join(f"\\{byte:03o}" for byte in os.fsencode(char))
        for char in word
    )
    return f"$'{''.join(shown)}'"
