"""Read frames of a sequence again, for work that needs their arrays."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from inspector.errors import Cancelled, MeshqcError, SourceChanged
from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import FrameReader
from inspector.names import safe
from inspector.safe_open import read_place
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series

Progress = Callable[[int, int], None]
"""Function that is called after each frame, with the number of frames done and the total number of frames."""


def quiet(done: int, total: int) -> None:
    """Do nothing. This is the progress function of work that nobody watches."""


def alike(series: Series) -> list[int]:
    """Return the indices of the usable frames that can share a triangulation and UV islands with the reference frame.

    They have the same faces, the same UV indices, and the same numbers of vertices and UVs. Frames without a bounding
    box are left out.

    Raises:
        MeshqcError: No frame is readable.
    """
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
    """Read frames again, and yield them one by one. Two frames are in memory at a time.

    Args:
        series: The sequence.
        indices: The frames to read, as indices into `series.facts`.
        progress: Called after each frame.
        cancelled: Returns whether to stop; called before each frame.

    Raises:
        Cancelled: The work was stopped.
        MeshqcError: A file can't be read any more.
        SourceChanged: The number of faces or vertices in a file changed.
    """
    reader = FrameReader()
    for done, index in enumerate(indices, 1):
        if cancelled():
            raise Cancelled("stopped")
        path, place = series.facts[index].file.path, series.facts[index].file.place
        try:
            frame = reader.read(read_place(place), path, read_place)
        except (UnreadableFrame, OSError) as error:
            raise MeshqcError(
                f"{safe(path.name)}: can't be read any more; check that it still exists, and inspect the folder again"
            ) from error
        if frame.faces != series.facts[index].faces or len(frame.positions) != series.facts[index].vertices:
            raise SourceChanged.of(safe(path.name))
        yield frame
        progress(done, len(indices))
