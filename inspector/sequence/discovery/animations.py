"""Open scene files, each of which contains a whole animation, and describe each file in one line.

Each file is described in a separate process, because a damaged file can crash the library that reads it.
"""

from __future__ import annotations

import os
import subprocess
import sys
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from inspector.errors import MeshqcError
from inspector.formats.problems import UnreadableFrame
from inspector.formats.registry import animations_by_ending
from inspector.names import safe

if TYPE_CHECKING:
    from inspector.formats.animation import Animation, Opening

DESCRIBING = 30.0
"""Time limit for describing a scene file, in seconds. The description usually takes less than a second."""

_PROGRAM = "import sys; sys.path[:] = {!r}; from inspector.sequence.discovery.animations import main; main()"


def open_animation(path: Path, opening: Opening | None = None) -> Animation:
    """Open a scene file.

    Args:
        path: The file.
        opening: The options for opening it; None for the defaults.

    Raises:
        MeshqcError: The file can't be read as a scene file, or the Python library for reading it is not installed.
    """
    from inspector.formats.animation import Opening

    form = animations_by_ending().get(os.fsencode(path.suffix).lower())
    if form is None or form.scene is None:
        endings = ", ".join(sorted(ending.decode() for ending in animations_by_ending()))
        raise MeshqcError(f"{safe(path.name)}: not a scene file; the extensions of scene files are {endings}")
    try:
        return form.scene.open(path, opening or Opening())
    except UnreadableFrame as error:
        raise MeshqcError(f"{safe(path.name)}: {error.words}") from error


def describe(path: Path) -> str:
    """Describe the frames and meshes of a scene file and how to use the file, or state why it can't be read.

    The text is safe to print in a terminal.
    """
    try:
        status = path.stat()
    except OSError as error:
        return f"a whole animation, which can't be read ({error.strerror})"
    return _described(path, status.st_size, status.st_mtime_ns)


@lru_cache
def _described(path: Path, _: int, __: int) -> str:
    command = [sys.executable, "-I", "-c", _PROGRAM.format(sys.path), os.fspath(path)]
    try:
        run = subprocess.run(command, capture_output=True, timeout=DESCRIBING, check=True)
        said = run.stdout.decode("utf-8", "replace").strip().rpartition("\n")[2]
    except subprocess.TimeoutExpired:
        said = "reading it takes too long"
    except (subprocess.CalledProcessError, OSError):
        said = "the process that was reading it crashed"
    return f"a whole animation: {said}"


def main() -> None:
    """Run the separate process: print one line that describes the file, or that states why it can't be read."""
    path = Path(sys.argv[1])
    try:
        said = f"`meshqc unpack` writes its frames ({summary(open_animation(path))})"
    except MeshqcError as error:
        said = str(error).removeprefix(f"{safe(path.name)}: ")
    sys.stdout.buffer.write(said.encode() + b"\n")


def summary(animation: Animation) -> str:
    """Return the frames and meshes of an animation in words, as in `frames 1-24, 2 meshes`."""
    frames, meshes = animation.frames, len(animation.meshes)
    span = f"frame {frames[0]}" if len(frames) == 1 else f"frames {frames[0]}-{frames[-1]}" if frames else "no frames"
    return f"{span}, {meshes} mesh{'' if meshes == 1 else 'es'}"
