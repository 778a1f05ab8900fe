"""Quote the words of a command line that is printed for copying."""

from __future__ import annotations

from pathlib import Path

from inspector.cli.registry import named_commands
from inspector.report.command_options import quoted_path, quoted_word


def quoted(path: Path) -> str:
    """Quote a path for a command line. The result is safe to show, and can't be mistaken for a command or an option."""
    word = str(path)
    return quoted_word(f"./{word}") if word in named_commands() else quoted_path(path)
