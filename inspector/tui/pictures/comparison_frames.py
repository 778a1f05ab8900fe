"""The frames that a frame can be compared with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.names import safe
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.receipt_marks import corrected_frames
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.materials.colour_maps import MaterialMaps
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.tui.pictures.frame_store import FrameStore, ReadFrame
from inspector.tui.pictures.scene import VIEWER_TEXTURE, Source


@dataclass(frozen=True, eq=False)
class Against:
    """The frames to compare with.

    Attributes:
        words: A description of these frames.
        source: The source of these frames.
        place: Function that takes the index of a frame in the view's facts, and returns the index in `source` of the
            frame to compare it with. It raises MeshqcError if that frame doesn't exist.
    """

    words: str
    source: Source
    place: Callable[[int], int]

    def frame(self, at: int) -> ReadFrame:
        """Return the frame with which frame `at` is compared.

        Raises:
            MeshqcError: There is no frame for the comparison, or it can't be read.
        """
        return self.source.store.frame(self.place(at))


def fixed_frame(source: Source, row: int, name: str) -> Against:
    """Return an Against that compares all frames with one frame.

    Args:
        source: The source of the frames.
        row: Row of that frame in the view.
        name: Text to show before the number of that frame, such as `reference frame`.
    """
    at = source.view.rows[row].at
    words = f"{name} {frame_text(source.view.rows[row].number)}"

    def place(_: int) -> int:
        if at is None:
            raise MeshqcError(f"{words} has no file")
        return at

    return Against(words, source, place)


def frame_before(source: Source) -> Against:
    """Return an Against that compares each frame with the frame of the previous file."""

    def place(at: int) -> int:
        if at == 0:
            raise MeshqcError("there is no previous frame")
        return at - 1

    return Against("the previous frame", source, place)


def corrected(view: SequenceView, root: Path, folder: Path, textures: tuple[Path, ...]) -> Against:
    """Return an Against that compares each frame with its corrected version.

    Args:
        view: The sequence in the source folder.
        root: The source folder. Paths in the receipt are relative to it.
        folder: The corrected folder.
        textures: Further folders in which textures may be read.
    """
    files = corrected_frames([one.file for one in view.facts], root, folder)
    facts = tuple(replace(one, file=file, readable=True) for one, file in zip(view.facts, files, strict=True))
    there = SequenceView(replace(view.sequence, files=files), facts)
    source = Source(there, FrameStore(there), MaterialMaps(MaterialResolver(Scope(folder, textures)), VIEWER_TEXTURE))
    return Against(f"the corrected frame in {safe(folder.name)}", source, lambda at: at)
