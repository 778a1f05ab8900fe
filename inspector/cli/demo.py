"""`meshqc demo`: write the demo's sequences."""

from __future__ import annotations

import sys

from inspector.cli.arguments import Arguments
from inspector.cli.next_steps import quoted
from inspector.demo import write_demo


def run(arguments: Arguments) -> int:
    """Exit code 0; a file that is there with another content is refused."""
    files = write_demo(arguments.folder)
    folder = quoted(arguments.folder)
    sys.stdout.write(f"{len(files)} files written below {folder}\nnext: meshqc {folder}\n")
    return 0
