"""The command `meshqc`: run a command line, and turn every outcome into an exit code."""

from __future__ import annotations

import gc
import os
import sys
from _signal import (
    SIG_DFL,
    SIGINT,
    default_int_handler,
    getsignal,
    signal,
)  # `signal` is written in Python, so Ctrl-C can interrupt it

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence


def main(words: Sequence[str] | None = None) -> int:
    """Run a command line and return the exit code.

    `words` is the command line without the program's name; None for the command line of the process. Until the command
    starts, Ctrl-C ends the process without a message, instead of raising KeyboardInterrupt.
    """
    usual = getsignal(SIGINT)
    if usual is default_int_handler:
        signal(SIGINT, SIG_DFL)
    # NumPy reads this variable when it is imported, here and in worker processes. Our matrices have three columns, so
    # the threads of the algebra library would only wait for each other. On a busy machine, drawing a picture would take
    # three times as long.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Imports create many objects but no garbage. With Python's default of 700, looking for garbage takes a tenth of a
    # short run.
    gc.set_threshold(20_000, 20, 100)

    def run() -> int:
        from inspector.cli.registry import ready

        command = ready(sys.argv[1:] if words is None else words)
        signal(SIGINT, usual)
        return command()

    try:
        from inspector.cli.exit_codes import guarded

        return guarded(run)
    finally:
        signal(SIGINT, usual)


if __name__ == "__main__":
    sys.exit(main())
