"""Watch a folder while it changes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from inspector.sequence.run.watch import FolderState, watch


def looks_while(folder: Path, steps: list[Callable[[], object]]) -> Iterator[FolderState]:
    """Watch the folder, and yield its states. Whenever the watch would wait, the next step runs instead. The watch ends
    when no step is left."""
    left = list(steps)

    def wait(_: float) -> bool:
        if not left:
            return False
        left.pop(0)()
        return True

    return watch(folder, wait)


def frame_text(demo: Path, number: int) -> bytes:
    return (demo / "manta" / f"manta.{number:04d}.obj").read_bytes()


def nothing() -> None:
    pass
