"""Find out whether the terminal has a screen, uses UTF-8, accepts text and still exists. Make the control sequence that
sets its title."""

from __future__ import annotations

import os
import select
import shlex
import sys
from collections.abc import Mapping
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.names import safe

# Values of LC_CTYPE that Python sets by itself in the C locale (PEP 538). They say nothing about the terminal.
_SET_BY_PYTHON = ("c.utf8", "c.utf-8")


def require_screen(folder: Path) -> None:
    """Check that the terminal UI can read keys and draw a screen. Textual reads stdin and draws on stderr.

    Raises:
        MeshqcError: Stdin or stderr is not a terminal, or the terminal can't move its cursor.
    """
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        reason = "stdin and stderr must both be terminals"
    elif os.environ.get("TERM", "") in ("", "dumb"):
        reason = "the terminal can't move its cursor (TERM is dumb or not set)"
    else:
        return
    raise MeshqcError(
        f"the terminal UI can't be opened: {reason}; instead, run: meshqc check {safe(shlex.quote(str(folder)))}"
    )


def speaks_utf8(environment: Mapping[str, str]) -> bool:
    """Return whether the locale uses UTF-8.

    The first of LC_ALL, LC_CTYPE and LANG that is set and not empty decides (POSIX). LC_CTYPE is ignored if Python set
    it by itself in the C locale.
    """
    language = environment.get("LANG", "")
    for variable in ("LC_ALL", "LC_CTYPE"):
        value = environment.get(variable, "")
        if value and not (variable == "LC_CTYPE" and value.lower() in _SET_BY_PYTHON and _is_plain(language)):
            return _is_utf8(value)
    return _is_utf8(language)


def _is_utf8(name: str) -> bool:
    return name.lower().replace("-", "").endswith("utf8")


def _is_plain(name: str) -> bool:
    return name in ("", "C", "POSIX")


def takes_more() -> bool:
    """Return whether the terminal accepts text immediately; True if that can't be determined.

    On a slow connection, the terminal accepts no text until earlier text has been sent.
    """
    try:
        return sys.__stderr__ is None or bool(select.select([], [sys.__stderr__.fileno()], [], 0)[1])
    except (OSError, ValueError):
        return True  # not known: this system has no such call, or stderr is not a file


def title_sequence(words: str) -> str:
    """Return the control sequence that sets the title of the terminal window or tmux pane: OSC 2 (xterm control
    sequences, from memory).

    In the title, characters other than printable ASCII are replaced with `?`.
    """
    shown = "".join(one if " " <= one <= "~" else "?" for one in words)
    return f"\x1b]2;{shown}\x1b\\"


def hung_up() -> bool:
    """Return whether the terminal on stdin is gone; False if that can't be determined."""
    try:
        poll = select.poll()
        poll.register(sys.stdin.fileno(), 0)
        return any(event & (select.POLLHUP | select.POLLERR | select.POLLNVAL) for _, event in poll.poll(0))
    except (OSError, ValueError, AttributeError):
        return False  # not known: this system has no such call, or stdin is not a file
