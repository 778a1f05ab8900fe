"""The command `meshqc`: picks the face and turns every end into an exit code."""

from __future__ import annotations

import os
import sys
from _signal import SIG_DFL, SIGINT, default_int_handler, getsignal, signal  # `signal` is in Python: Ctrl-C can hit it

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line `words` (the process's own if None) and return its exit code.

    Until the command begins there is nothing to undo, and Ctrl-C ends the process by the signal, without a word: raised
    amid imports it would end in a traceback, or, where Python calls back, be written to the terminal and forgotten.
    """
    usual = getsignal(SIGINT)
    if usual is default_int_handler:
        signal(SIGINT, SIG_DFL)
    # Read when NumPy is imported, here and in worker processes. Our matrices have three columns: the algebra library's
    # own threads only wait for each other in loops, for which a picture of a busy machine takes three times as long.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

    def run() -> int:
        command = _command(sys.argv[1:] if words is None else words)
        signal(SIGINT, usual)
        return command()

    try:
        from inspector.cli.exit_codes import guarded

        return guarded(run)
    finally:
        signal(SIGINT, usual)


def _command(words: Sequence[str]) -> Callable[[], int]:
    """What the words ask for. Imports only what that needs, so that --help is quick."""
    from functools import partial
    from importlib import import_module

    from inspector.cli.arguments import parse

    arguments = parse(words)
    if arguments.command == "open":
        face = import_module("inspector.tui.app").run
        return partial(
            face, arguments.folder, arguments.settings, calm=arguments.options.calm, live=arguments.options.live
        )
    if arguments.command == "reopen":
        last: Callable[[], int] = import_module("inspector.tui.app").reopen
        return last
    return partial(import_module(f"inspector.cli.{arguments.command}").run, arguments)


if __name__ == "__main__":
    sys.exit(main())
