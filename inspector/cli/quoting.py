"""Quotes the words of a command line that is printed for copying."""

from __future__ import annotations

import os
import shlex
from pathlib import Path

from inspector.cli.registry import named_commands
from inspector.names import safe


def quoted(path: Path) -> str:
    """The path quoted for a command line, never mistaken for a command or an option, and safe on any screen."""
    word = str(path)
    return quoted_word(f"./{word}" if word in named_commands() or word.startswith("-") else word)


def quoted_word(word: str) -> str:
    """A word of a command line, safe on any screen.

    Bytes that a screen must not show are written as octal in `$'...'`, which POSIX.1-2024 defines and bash, zsh and ksh
    have long supported.
    """
    if safe(word) == word:
        return shlex.quote(word)
    shown = (
        char if safe(char) == char and char not in "'\\" else "".join(f"\\{byte:03o}" for byte in os.fsencode(char))
        for char in word
    )
    return f"$'{''.join(shown)}'"
