"""How a command ends: an exit code, and one plain sentence on stderr where it could not do its work."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable

from inspector.errors import MeshqcError
from inspector.names import safe
from inspector.report.mistake import mistake_text

FOUND, FAILED = 1, 2
"""Exit codes beside 0: something was found or is left; it could not be done."""

_STOPPED = "stopped; nothing was left half done under its final name"


def guarded(command: Callable[[], int]) -> int:
    """Run a command and return its exit code. Nothing but SystemExit of --help and --version gets past."""
    try:
        for stream in (sys.stdout, sys.stderr):
            # A name may hold what the terminal's encoding lacks; a report must not die of it.
            stream.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]
        code = command()
        sys.stdout.flush()
    except KeyboardInterrupt:
        return fail(_STOPPED)
    except BrokenPipeError:
        # Who read our output has closed it. Python would complain once more when it flushes at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except MeshqcError as error:
        return fail(str(error))
    except OSError as error:
        place = f"{safe(os.fsdecode(error.filename))}: " if isinstance(error.filename, str | bytes) else ""
        return fail(f"{place}{error.strerror or error}")
    except Exception as error:
        if isinstance(error.__cause__, KeyboardInterrupt):  # in an import; before 3.12 Python wraps it
            return fail(_STOPPED)
        return fail(mistake_text(error))
    return code


def fail(message: str) -> int:
    """Say why it could not be done."""
    say(f"meshqc: {message}")
    return FAILED


def say(message: str) -> None:
    """A line of talk on stderr."""
    print(message, file=sys.stderr, flush=True)
