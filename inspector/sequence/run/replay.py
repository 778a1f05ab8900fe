"""Frames of a sequence read once more, for what needs their arrays."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from inspector.errors import Cancelled, MeshqcError
from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import FrameReader
from inspector.names import safe
from inspector.safe_open import read_place
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series

Progress = Callable[[int, int], None]
"""Called after each frame with how many are done, and of how many."""


def quiet(done: int, total: int) -> None:
    """The progress of work that nobody watches."""


def alike(series: Series) -> list[int]:
    """Indices of the frames whose faces, vertices and UV indices are the reference's: one triangulation, one set of
    UV islands serves them all. Raises MeshqcError if no frame is readable."""
    base = series.reference_facts
    traits = ("vertices", "topology", "uv_indices", "uvs")
    return [
        int(index)
        for index in np.flatnonzero(series.usable)
        if all(getattr(series.facts[index], trait) == getattr(base, trait) for trait in traits)
        and series.facts[index].box is not None
    ]


def replay(
    series: Series, indices: Sequence[int], progress: Progress = quiet, cancelled: Cancel = never
) -> Iterator[Frame]:
    """The frames at these indices of `series.facts`, two of them in memory at a time.

    Raises Cancelled between frames once `cancelled()` is true, and MeshqcError where a file has gone or changed.
    """
    reader = FrameReader()
    for done, index in enumerate(indices, 1):
        if cancelled():
            raise Cancelled("stopped")
        path, place = series.facts[index].file.path, series.facts[index].file.place
        try:
            frame = reader.read(read_place(place), path, read_place)
        except (UnreadableFrame, OSError) as error:
            raise MeshqcError(f"{safe(path.name)}: could be read before, but not any more") from error
        if frame.faces != series.facts[index].faces or len(frame.positions) != series.facts[index].vertices:
            raise MeshqcError(f"{safe(path.name)}: was changed meanwhile; inspect the folder again")
        yield frame
        progress(done, len(indices))
