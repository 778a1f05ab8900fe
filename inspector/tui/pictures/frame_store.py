"""Read frames for pictures. Only a few frames are kept, so that long sequences take no more memory than short
sequences."""

from __future__ import annotations

import time
from collections import OrderedDict
from dataclasses import dataclass, replace
from functools import cached_property
from threading import Lock

import numpy as np

from inspector.checks.base.affected_elements import AffectedElements, affected_elements
from inspector.checks.base.finding import Finding
from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import FrameReader
from inspector.names import Name, safe
from inspector.picture.shape import Shape, shape_of
from inspector.report.frame_rows import SequenceView
from inspector.safe_open import read_place
from inspector.surface.triangles import Triangles, Triangulator

VIEWER_BYTES = 256 << 20
"""Maximum total size, in bytes, of the frames that the viewer keeps besides the frame on the screen. It is enough for a
few hundred frames of 20,000 vertices, or a dozen frames of a million vertices."""

AHEAD_FRAMES = 12
"""Maximum number of frames that are read ahead of playback. They last half a second at 24 fps, so that playback
continues if the storage is slow for a moment."""

_BLOCK_BYTES = 250
"""Memory of one entry of `Frame.blocks` and of the numbers in it, in bytes (measured in CPython 3.11, rounded up)."""


@dataclass(frozen=True, eq=False)
class ReadFrame:
    """A frame, stored without its text, together with the data that pictures need.

    Attributes:
        frame: The frame.
        file: File name of the frame, as in findings.
        triangles: The triangles of the frame's faces.
        shape: The frame's triangles, edges and UVs for drawing.
    """

    frame: Frame
    file: Name
    triangles: Triangles
    shape: Shape

    @cached_property
    def sizes(self) -> dict[int, int]:
        """Identity (`id`) of each object -> its size in memory, in bytes. Frames share equal arrays, which must not be
        counted twice."""
        frame, shape = self.frame, self.shape
        arrays = (frame.positions, frame.uvs, frame.normals, frame.corners.v, frame.corners.vt, frame.corners.vn)
        drawn = (shape.triangles, shape.face, shape.edges, shape.corner_uvs)
        return {id(one): one.nbytes for one in (*arrays, *drawn)} | {id(frame.blocks): _BLOCK_BYTES * len(frame.blocks)}


class FrameStore:
    """The frames of one sequence. Each frame is identified by its index in the view's facts.

    Threads may ask for frames concurrently. Only one thread reads at a time, and no thread waits for a frame that is in
    memory.
    """

    def __init__(self, view: SequenceView) -> None:
        self._view = view
        self._reading = Lock()
        self._changing = Lock()
        self._reader = FrameReader()
        self._triangulator = Triangulator()
        self._kept: OrderedDict[int, ReadFrame] = OrderedDict()
        self._last: ReadFrame | None = None
        self.seconds = 0.0  # mean time to read a frame, over the last few frames
        self._more = 0  # bytes that the last frame added, without the arrays that it shares
        self._picked: tuple[Finding, int, AffectedElements] | None = None

    def frame(self, at: int) -> ReadFrame:
        """Return a frame. Read it unless it is in memory.

        Raises:
            MeshqcError: The frame can't be read.
        """
        if (there := self._take(at)) is not None:
            return there
        with self._reading:
            if (there := self._take(at)) is not None:  # another thread has read it in the meantime
                return there
            self._make_room()
            start = time.monotonic()
            self._last = read = self.read(at)
            self.seconds += (time.monotonic() - start - self.seconds) / 2.0
            with self._changing:
                before = self.bytes
                self._kept[at] = read
                self._more = self.bytes - before
            return read

    def _take(self, at: int) -> ReadFrame | None:
        with self._changing:
            if at in self._kept:
                self._kept.move_to_end(at)
            return self._kept.get(at)

    @property
    def ahead(self) -> int:
        """Maximum number of frames to read ahead: AHEAD_FRAMES, or fewer if they don't fit in half of VIEWER_BYTES, but
        at least 1."""
        return max(1, min(AHEAD_FRAMES, VIEWER_BYTES // 2 // max(1, self._more)))

    @property
    def bytes(self) -> int:
        """Size of all kept frames, in bytes."""
        sizes: dict[int, int] = {}
        for one in self._kept.values():
            sizes |= one.sizes
        return sum(sizes.values())

    def at_hand(self, at: int) -> ReadFrame | None:
        """Return a frame if it is in memory; otherwise None. This function never waits."""
        return self._kept.get(at)

    @property
    def reference(self) -> ReadFrame | None:
        """The reference frame; None if there is none.

        Raises:
            MeshqcError: The frame can't be read.
        """
        series = self._view.series
        return None if series is None or series.reference_index is None else self.frame(series.reference_index)

    def picked_out(self, finding: Finding | None, at: int) -> AffectedElements:
        """For a finding, return the affected faces and vertices of a frame; none if there is no finding, or if it isn't
        about this frame.

        Raises:
            MeshqcError: The frame or the reference frame can't be read.
        """
        number = self._view.facts[at].number
        if finding is None or (finding.frames and number not in finding.frames):
            return AffectedElements()
        if self._picked is None or self._picked[0] is not finding or self._picked[1] != at:
            here, reference = self.frame(at), self.reference
            other = None if reference is None else reference.frame
            self._picked = (finding, at, affected_elements(finding, here.frame, here.file, other))
        return self._picked[2]

    def load(self, at: int) -> Frame:
        """Read the file of a frame.

        Raises:
            MeshqcError: The frame can't be read.
        """
        path, place = self._view.facts[at].file.path, self._view.facts[at].file.place
        try:
            return self._reader.read(read_place(place), path, read_place)
        except UnreadableFrame as error:
            raise MeshqcError(f"{safe(path.name)}: can't be drawn, because it can't be read") from error
        except OSError as error:
            raise MeshqcError(f"{safe(path.name)}: {error.strerror}") from error

    def read(self, at: int) -> ReadFrame:
        """Read a frame without keeping it.

        Raises:
            MeshqcError: The frame can't be read.
        """
        path, frame = self._view.facts[at].file.path, self.load(at)
        triangles = self._triangulator.of(frame)
        name = self._view.inspection.context.file_name(at) if self._view.inspection else Name.from_path(path)
        return ReadFrame(replace(frame, data=b""), name, triangles, self._shape(frame, triangles))

    def _shape(self, frame: Frame, triangles: Triangles) -> Shape:
        """Make the shape of a frame. If the last frame that was read has the same faces and UVs, reuse its shape."""
        last = self._last
        if last is not None and last.triangles is triangles:
            before, now = last.frame, frame.corners
            same_uvs = before.uvs is frame.uvs or np.array_equal(before.uvs, frame.uvs, equal_nan=True)
            if same_uvs and before.corners.v is now.v and before.corners.vt is now.vt:
                return last.shape
        return shape_of(frame, triangles)

    def _make_room(self) -> None:
        """Drop frames, the least recently used first, until VIEWER_BYTES leaves space for a frame as large as the last
        frame that was read.

        The reference frame and the most recently used frame are kept.
        """
        series = self._view.series
        with self._changing:
            for at in list(self._kept)[:-1]:
                if self._more + self.bytes <= VIEWER_BYTES:
                    return
                if series is None or at != series.reference_index:
                    del self._kept[at]
