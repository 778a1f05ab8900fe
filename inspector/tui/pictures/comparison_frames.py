"""What a frame can be compared with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.names import safe
from inspector.report.frame_rows import SequenceView, unread
from inspector.sequence.discovery.receipt_marks import corrected_frames
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.pictures.frame_store import FrameStore, ReadFrame
from inspector.tui.pictures.scene import Source


@dataclass(frozen=True, eq=False)
class Against:
    """words: what it is. frame: place of a frame in the view's facts -> the frame to compare it with; raises
    MeshqcError where there is none."""

    words: str
    frame: Callable[[int], ReadFrame]


def fixed_frame(source: Source, row: int, name: str) -> Against:
    """One frame against which all others are held; name: what it is, beside its number."""
    at = source.view.rows[row].at
    words = f"{name} {frame_text(source.view.rows[row].number)}"

    def frame(_: int) -> ReadFrame:
        if at is None:
            raise MeshqcError(f"{words} has no file")
        return source.store.frame(at)

    return Against(words, frame)


def frame_before(source: Source) -> Against:
    """The frame file before each."""

    def frame(at: int) -> ReadFrame:
        if at == 0:
            raise MeshqcError("no frame before this one")
        return source.store.frame(at - 1)

    return Against("the frame before", frame)


def corrected(view: SequenceView, root: Path, folder: Path) -> Against:
    """What a corrected folder made of each frame. root: of the source, which the receipt's paths start from."""
    files = corrected_frames([one.file for one in view.facts], root, folder)
    store = FrameStore(SequenceView(replace(view.sequence, files=files), tuple(map(unread, files))))
    return Against(f"corrected in {safe(folder.name)}", store.frame)
