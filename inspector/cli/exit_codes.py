"""How a command ends: an exit code, and one plain sentence on stderr where it could not do its work."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
from typing import TextIO

from inspector.errors import MeshqcError, unexpected
from inspector.names import safe

FOUND, FAILED = 1, 2
"""Exit codes beside 0: something was found or is left; it could not be done."""

_STOPPED = "stopped; nothing was left half done under its final name"


def guarded(command: Callable[[], int]) -> int:
    """Run a command and return its exit code; nothing gets past, and Python has nothing to complain of at the end."""
    try:
        _open_streams()
        code = _code(command)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return fail(_STOPPED)
    except BrokenPipeError:
        return FAILED  # who read our output has closed it
    except MeshqcError as error:
        return fail(str(error))
    except OSError as error:
        place = f"{safe(os.fsdecode(error.filename))}: " if isinstance(error.filename, str | bytes) else ""
        return fail(f"{place}{error.strerror or error}")
    except Exception as error:
        if isinstance(error.__cause__, KeyboardInterrupt):  # in an import; before 3.12 Python wraps it
            return fail(_STOPPED)
        return fail(unexpected(error))
    finally:
        _let_go()
    return code


def _open_streams() -> None:
    """stdout and stderr that take any text, whole.

    One that is closed from the start leads nowhere; else the next file that is opened would get its number, and with it
    what is meant for it. Where Python was told to buffer nothing (PYTHONUNBUFFERED), stdout is buffered nevertheless:
    its unbuffered text streams say nothing of a write that took only a part, as on a full disk. A name may hold what
    the terminal's encoding lacks; a report must not die of it.
    """
    for number, name in ((1, "stdout"), (2, "stderr")):
        stream = getattr(sys, name)
        if stream is None:
            os.dup2(os.open(os.devnull, os.O_WRONLY), number)
            stream = os.fdopen(number, "w", closefd=False)
        elif name == "stdout" and isinstance(stream.buffer, io.RawIOBase):
            stream = os.fdopen(stream.fileno(), "w", encoding=stream.encoding, closefd=False)
        stream.reconfigure(errors="backslashreplace")
        setattr(sys, name, stream)


def _code(command: Callable[[], int]) -> int:
    """The command's exit code, also where --help or --version ends it."""
    try:
        return command()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0


def _let_go() -> None:
    """Write what is still in stdout's buffer."""
    try:
        sys.stdout.flush()
    except OSError:
        _lead_nowhere(sys.stdout)


def _lead_nowhere(stream: TextIO) -> None:
    """What can't be written is dropped; Python would try once more at the end, complain, and end with another code."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def fail(message: str) -> int:
    """Say why it could not be done."""
    say(f"meshqc: {message}")
    return FAILED


def say(message: str) -> None:
    """A line of talk on stderr, if anyone still reads it."""
    try:
        print(message, file=sys.stderr, flush=True)
    except OSError:
        _lead_nowhere(sys.stderr)
