"""End a command with an exit code and, if the command failed, one sentence on stderr."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
from typing import TextIO

from inspector.errors import MeshqcError, unexpected
from inspector.names import safe

FOUND, FAILED = 1, 2
"""Exit codes other than 0. FOUND: something was found or remains. FAILED: the command failed."""

_STOPPED = "stopped; no incomplete output file was left behind"


def guarded(command: Callable[[], int]) -> int:
    """Run a command and return its exit code. No exception escapes, and Python itself prints nothing at exit."""
    try:
        _open_streams()
        code = _code(command)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return fail(_STOPPED)
    except BrokenPipeError:
        return FAILED  # the program that reads our output has closed it
    except MeshqcError as error:
        return fail(str(error))
    except OSError as error:
        where = f"{safe(os.fsdecode(error.filename))}: " if isinstance(error.filename, str | bytes) else ""
        return fail(f"{where}{error.strerror or error}")
    except Exception as error:
        if isinstance(error.__cause__, KeyboardInterrupt):  # Python before 3.12 wraps it if an import is interrupted
            return fail(_STOPPED)
        return fail(unexpected(error))
    finally:
        _flush()
    return code


def _open_streams() -> None:
    """Set up stdout and stderr so that they accept any text and write it completely.

    - A stream that is closed from the start is connected to the null device, because the next file to be opened would
      otherwise get the stream's file descriptor, and with it the stream's text.
    - stdout is buffered even if PYTHONUNBUFFERED is set, because an unbuffered text stream doesn't report a partial
      write, for example on a full disk.
    - Characters that the stream's encoding can't represent are escaped.
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
    """Run the command and return its exit code, even if `--help` or `--version` ends it."""
    try:
        return command()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0


def _flush() -> None:
    """Write the text that is left in the buffer of stdout, or drop the text if it can't be written."""
    try:
        sys.stdout.flush()
    except OSError:
        _discard(sys.stdout)


def _discard(stream: TextIO) -> None:
    """Connect a stream to the null device. Otherwise, Python would write again at exit, and change the exit code."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def fail(message: str) -> int:
    """Print why the command failed, and return exit code 2."""
    say(f"meshqc: {message}")
    return FAILED


def say(message: str) -> None:
    """Print a message on stderr, if stderr is still open."""
    try:
        print(message, file=sys.stderr, flush=True)
    except OSError:
        _discard(sys.stderr)
