"""Decide which worker measures which frames. Neighbouring frames go to the same worker."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from inspector.sequence.discovery.discover import FrameFile

CHUNK_BYTES = 16_000_000
"""Total size of the frame files in a chunk for a worker, in bytes. Measuring such a chunk takes about 50 ms."""

CHUNK_FRAMES = 64
"""Maximum number of frames in a chunk."""

Span = tuple[int, int, int]
"""Consecutive frames: the index of their sequence, and the start and stop of their indices in the files of that
sequence."""

Urgent = Callable[[], Span | None]
"""Function that returns the frames that the user is looking at; they take precedence over all other frames. The
function returns None if there are no such frames."""


def nobody_looks() -> None:
    """Return None: in work that nobody watches, no frames are urgent."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Consecutive frames of a sequence that are measured together.

    Attributes:
        sequence: Index of the sequence.
        start: Index of the chunk's first file in the sequence.
        files: The files.
        before: The file before the chunk; None at the start of the sequence.
    """

    sequence: int
    start: int
    files: tuple[FrameFile, ...]
    before: FrameFile | None

    @property
    def stop(self) -> int:
        """Index, in the sequence, of the first file after the chunk."""
        return self.start + len(self.files)


class Schedule:
    """Hands out all frames that must still be measured, chunk by chunk.

    Each worker goes through its own span, so that it still has the previous frame in memory. The worker then takes the
    next span or, if none is left, the second half of the longest span of another worker. Frames on the screen take
    precedence. The result doesn't depend on which worker measures a frame.
    """

    def __init__(
        self,
        sequences: Sequence[Sequence[FrameFile]],
        wanted: Iterable[Span],
        chunk_bytes: int = CHUNK_BYTES,
        urgent: Urgent = nobody_looks,
    ) -> None:
        """Prepare the spans.

        Args:
            sequences: The files of each sequence.
            wanted: Frames to measure, in order of precedence.
            chunk_bytes: Size of the frame files in a chunk, in bytes.
            urgent: Returns the frames that the user is looking at; called before each chunk.
        """
        self._sequences = sequences
        self._chunk_bytes = chunk_bytes
        self._urgent = urgent
        self._spans = [list(span) for span in wanted if span[1] < span[2]]
        self._owned: dict[tuple[int, int], list[int]] = {}

    def take(self, last: Chunk | None) -> Chunk | None:
        """Take the next chunk for a worker; None if nothing is left.

        Args:
            last: The worker's previous chunk; None if it has had none.
        """
        span = self._owned.pop((last.sequence, last.stop), None) if last is not None else None
        span = self._urgent_span(span)
        if span is None or span[1] >= span[2]:
            span = self._new_span()
        if span is None:
            return None
        chunk = self._cut(span)
        self._owned[(chunk.sequence, chunk.stop)] = span
        return chunk

    def _urgent_span(self, own: list[int] | None) -> list[int] | None:
        """Separate the frames that the user is looking at from the span that contains them, and return them.

        The result is `own`, the worker's span, if there are no such frames, or if a worker is about to measure them
        anyway.
        """
        seen = self._urgent()
        if seen is None:
            return own
        for span in [*([own] if own else []), *self._spans, *self._owned.values()]:
            start, stop = max(span[1], seen[1]), min(span[2], seen[2])
            if span[0] != seen[0] or start >= stop:
                continue
            if start == span[1] and span not in self._spans:
                if span is own:
                    return own
                continue  # its worker is measuring it
            rest = [[seen[0], stop, span[2]], *([own] if own and own is not span else [])]
            if span is own:
                rest.append([seen[0], span[1], start])
            span[2] = start
            self._spans = [one for one in [*rest, *self._spans] if one[1] < one[2]]
            return [seen[0], start, stop]
        return own

    def _new_span(self) -> list[int] | None:
        """Take a new span or, if none is left, the second half of the longest span being measured; None if no frame is
        left."""
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
        """Take one chunk of frames from the start of the span."""
        sequence, start, stop = span
        files = self._sequences[sequence]
        end, size = start, 0
        while end < stop and end - start < CHUNK_FRAMES and (end == start or size < self._chunk_bytes):
            size += files[end].size
            end += 1
        span[1] = end
        return Chunk(sequence, start, tuple(files[start:end]), files[start - 1] if start else None)
