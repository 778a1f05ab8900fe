"""The command `meshqc`: picks the face and turns every end into an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module

from inspector.cli.ending import guarded


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line `words` (the process's own if None) and return its exit code."""
    # Read when NumPy is imported, here and in worker processes. Our matrices have three columns: the algebra library's
    # own threads only wait for each other in loops, for which a picture of a busy machine takes three times as long.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    return guarded(lambda: _run(sys.argv[1:] if words is None else words))


def _run(words: Sequence[str]) -> int:
    """Imports only what the command needs, so that --help is quick, and here, where Ctrl-C ends in a sentence."""
    from inspector.cli.arguments import Arguments, parse

    arguments = parse(words)
    if arguments.command == "open":
        face: Callable[..., int] = import_module("inspector.tui.app").run
        return face(arguments.folder, arguments.settings, calm=arguments.options.calm, live=arguments.options.live)
    if arguments.command == "reopen":
        last: Callable[[], int] = import_module("inspector.tui.app").reopen
        return last()
    command: Callable[[Arguments], int] = import_module(f"inspector.cli.{arguments.command}").run
    return command(arguments)


if __name__ == "__main__":
    sys.exit(main())
