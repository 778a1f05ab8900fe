"""Frames read for pictures, the last few of them kept: memory is bounded, whatever the length of the sequence."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from functools import cached_property
from threading import Lock

import numpy as np

from inspector import limits
from inspector.checks.base.finding import Finding
from inspector.checks.base.pick_out import PickedOut, pick_out
from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import FrameReader
from inspector.names import Name, safe
from inspector.picture.shape import Shape, shape_of
from inspector.report.view import SequenceView
from inspector.sequence.storage import read_place
from inspector.surface.triangles import Triangles, Triangulator

_BLOCK_BYTES = 250
"""What a block takes in memory with its numbers, measured in CPython 3.11 (rounded up)."""


@dataclass(frozen=True, eq=False)
class ReadFrame:
    """A frame without its text, and what pictures need of it. file: its name, as findings have it."""

    frame: Frame
    file: Name
    triangles: Triangles
    shape: Shape

    @cached_property
    def bytes(self) -> int:
        """What it takes in memory at most; neighbours share some of it."""
        frame, shape = self.frame, self.shape
        arrays = (frame.positions, frame.uvs, frame.normals, frame.corners.v, frame.corners.vt, frame.corners.vn)
        pictures = sum(one.nbytes for one in (*arrays, shape.triangles, shape.face, shape.edges, shape.corner_uvs))
        return pictures + _BLOCK_BYTES * len(frame.blocks)


class FrameStore:
    """The frames of one sequence. Threads may ask at the same time; one of them reads, the others wait."""

    def __init__(self, view: SequenceView) -> None:
        self._view = view
        self._lock = Lock()
        self._reader = FrameReader()
        self._triangulator = Triangulator()
        self._kept: OrderedDict[int, ReadFrame] = OrderedDict()
        self._last: ReadFrame | None = None
        self._picked: tuple[Finding, int, PickedOut] | None = None

    def frame(self, at: int) -> ReadFrame:
        """The frame at a place of the view's facts. Raises MeshqcError naming file and cause."""
        with self._lock:
            if at not in self._kept:
                self._kept[at] = self._last = self._read(at)
                self._make_room()
            self._kept.move_to_end(at)
            return self._kept[at]

    def at_hand(self, at: int) -> ReadFrame | None:
        """The frame if it is in memory; never waits."""
        return self._kept.get(at)

    @property
    def reference(self) -> ReadFrame | None:
        """The frame that the others are held against, None without any. Raises MeshqcError as `frame` does."""
        series = self._view.series
        return None if series is None or series.reference is None else self.frame(series.reference)

    def picked_out(self, finding: Finding | None, at: int) -> PickedOut:
        """The faces and vertices of the frame that a finding is about; nothing where it isn't about this frame."""
        number = self._view.facts[at].number
        if finding is None or (finding.frames and number not in finding.frames):
            return PickedOut()
        if self._picked is None or self._picked[0] is not finding or self._picked[1] != at:
            here, reference = self.frame(at), self.reference
            other = None if reference is None else reference.frame
            self._picked = (finding, at, pick_out(finding, here.frame, here.file, other))
        return self._picked[2]

    def _read(self, at: int) -> ReadFrame:
        path, place = self._view.facts[at].file.path, self._view.facts[at].file.place
        try:
            frame = self._reader.read(read_place(place), path, read_place)
        except UnreadableFrame as error:
            raise MeshqcError(f"{safe(path.name)}: can't be drawn, for it can't be read") from error
        except OSError as error:
            raise MeshqcError(f"{safe(path.name)}: {error.strerror}") from error
        triangles = self._triangulator.of(frame)
        name = self._view.inspection.evidence.file_name(at) if self._view.inspection else Name.from_path(path)
        return ReadFrame(replace(frame, data=b""), name, triangles, self._shape(frame, triangles))

    def _shape(self, frame: Frame, triangles: Triangles) -> Shape:
        """The last frame's shape where nothing in it differs: the reader shares what is equal."""
        last = self._last
        if last is not None and last.triangles is triangles:
            before, now = last.frame, frame.corners
            same_uvs = before.uvs is frame.uvs or np.array_equal(before.uvs, frame.uvs, equal_nan=True)
            if same_uvs and before.corners.v is now.v and before.corners.vt is now.vt:
                return last.shape
        return shape_of(frame, triangles)

    def _make_room(self) -> None:
        """The reference stays; of the others, those go first that were not looked at for longest."""
        series = self._view.series
        for at in list(self._kept)[:-1]:
            if sum(one.bytes for one in self._kept.values()) <= limits.VIEWER_BYTES:
                return
            if series is None or at != series.reference:
                del self._kept[at]
