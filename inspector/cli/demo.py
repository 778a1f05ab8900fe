"""`meshqc demo`: write the demo's sequences."""

from __future__ import annotations

import shlex
import sys

from inspector.cli.arguments import Arguments
from inspector.demo import write_demo
from inspector.names import safe


def run(arguments: Arguments) -> int:
    """Exit code 0; a file that is there with another content is refused."""
    files = write_demo(arguments.folder)
    folder = safe(shlex.quote(str(arguments.folder)))
    sys.stdout.write(f"{len(files)} files written below {folder}\nnext: meshqc {folder}\n")
    return 0
