"""What a frame can be compared with."""

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
    """What frames are compared with.

    Attributes:
        words: What it is.
        source: Where the other frames come from.
        place: Place of a frame in the view's facts -> place of the frame in `source` to compare it with. Raises
            MeshqcError where there is none.
    """

    words: str
    source: Source
    place: Callable[[int], int]

    def frame(self, at: int) -> ReadFrame:
        """The frame to compare the one at a place with. Raises MeshqcError where there is none."""
        return self.source.store.frame(self.place(at))


def fixed_frame(source: Source, row: int, name: str) -> Against:
    """One frame against which all others are held; name: what it is, beside its number."""
    at = source.view.rows[row].at
    words = f"{name} {frame_text(source.view.rows[row].number)}"

    def place(_: int) -> int:
        if at is None:
            raise MeshqcError(f"{words} has no file")
        return at

    return Against(words, source, place)


def frame_before(source: Source) -> Against:
    """The frame file before each."""

    def place(at: int) -> int:
        if at == 0:
            raise MeshqcError("no frame before this one")
        return at - 1

    return Against("the frame before", source, place)


def corrected(view: SequenceView, root: Path, folder: Path, textures: tuple[Path, ...]) -> Against:
    """What a corrected folder made of each frame.

    Args:
        view: Of the source.
        root: Of the source, which the receipt's paths start from.
        folder: The corrected one.
        textures: Further folders that the user named for textures.
    """
    files = corrected_frames([one.file for one in view.facts], root, folder)
    facts = tuple(replace(one, file=file, readable=True) for one, file in zip(view.facts, files, strict=True))
    there = SequenceView(replace(view.sequence, files=files), facts)
    source = Source(there, FrameStore(there), MaterialMaps(MaterialResolver(Scope(folder, textures)), VIEWER_TEXTURE))
    return Against(f"corrected in {safe(folder.name)}", source, lambda at: at)
