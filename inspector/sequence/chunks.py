"""Which frames are measured when and by whom: neighbouring frames stay with one worker."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inspector import limits
from inspector.sequence.discover import FrameFile


@dataclass(frozen=True, slots=True)
class Chunk:
    """Files `start:start + len(files)` of a sequence, and the file before the first."""

    sequence: int
    start: int
    files: tuple[FrameFile, ...]
    before: FrameFile | None

    @property
    def stop(self) -> int:
        return self.start + len(self.files)


class Schedule:
    """Hands out all frames that are still to be measured, chunk by chunk.

    Each worker walks through a span of its own, so that the frame before is still in its memory; when its span is
    done it takes over the second half of the longest span left. What a worker got never changes a result.
    """

    def __init__(
        self,
        sequences: Sequence[Sequence[FrameFile]],
        wanted: Iterable[tuple[int, int, int]],
        chunk_bytes: int = limits.CHUNK_BYTES,
    ) -> None:
        """wanted: spans (sequence, start, stop) of frames to measure, the most urgent first."""
        self._sequences = sequences
        self._chunk_bytes = chunk_bytes
        self._spans = [list(span) for span in wanted if span[1] < span[2]]
        self._owned: dict[tuple[int, int], list[int]] = {}

    def take(self, last: Chunk | None) -> Chunk | None:
        """The next chunk for a worker whose last one was `last`; None when nothing is left."""
        span = self._owned.pop((last.sequence, last.stop), None) if last is not None else None
        if span is None or span[1] >= span[2]:
            span = self._new_span()
        if span is None:
            return None
        chunk = self._cut(span)
        self._owned[(chunk.sequence, chunk.stop)] = span
        return chunk

    def _new_span(self) -> list[int] | None:
        """An untouched span, or else the second half of the longest one that a worker is walking through."""
        if self._spans:
            return self._spans.pop(0)
        longest = max(self._owned.values(), key=lambda span: span[2] - span[1], default=None)
        if longest is None or longest[2] - longest[1] < 2:
            return None if longest is None or longest[1] >= longest[2] else longest
        middle = (longest[1] + longest[2]) // 2
        half = [longest[0], middle, longest[2]]
        longest[2] = middle
        return half

    def _cut(self, span: list[int]) -> Chunk:
        """Take a chunk's worth of frames from the front of the span."""
        sequence, start, stop = span
        files = self._sequences[sequence]
        end, size = start, 0
        while end < stop and end - start < limits.CHUNK_FRAMES and (end == start or size < self._chunk_bytes):
            size += files[end].size
            end += 1
        span[1] = end
        return Chunk(sequence, start, tuple(files[start:end]), files[start - 1] if start else None)
