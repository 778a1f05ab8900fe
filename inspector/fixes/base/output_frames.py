"""The list of frames to write, with their file names and the source frames that they are made from."""

from __future__ import annotations

import os
from dataclasses import dataclass
from fractions import Fraction

from inspector.names import Name
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import Series


@dataclass(frozen=True, slots=True)
class OutputFrame:
    """A frame to write.

    Attributes:
        number: Frame number in the source's numbering, even if the source has no such frame.
        file: Name of the file in the delivered folder.
        sources: Indices in `series.facts` of the source frames; several only if the frame is made. Everything except
            positions and normals comes from the first source.
        weights: One weight per source; the sum is 1. The first source has weight 0 if it supplies no positions.
        made: How the frame is made ("blend" or "hold"); None for a frame of the source.
    """

    number: Fraction
    file: Name
    sources: tuple[int, ...]
    weights: tuple[float, ...] = (1.0,)
    made: str | None = None

    @property
    def file_name(self) -> str:
        """The file name as a string for use in paths."""
        return os.fsdecode(self.file.raw)


OutputFrames = tuple[OutputFrame, ...]


def source_frames(series: Series) -> OutputFrames:
    """Return all frames of the source with their own file names, but with the extension `.obj` if they are readable."""
    return tuple(OutputFrame(one.number, _delivered(one), (index,)) for index, one in enumerate(series.facts))


def _delivered(facts: FrameFacts) -> Name:
    return as_obj(facts.file.name) if facts.readable else facts.file.name


def as_obj(file: Name) -> Name:
    """Return the file name with the extension `.obj`. An extension that differs only in case is kept."""
    stem, dot, ending = file.raw.rpartition(b".")
    return file if ending.lower() == b"obj" else Name(stem + dot + b"obj")


def numbered_file(sequence: FrameSequence, number: Fraction, padding: int | None = None) -> Name:
    """Return the sequence's file name for a frame number: the stem, the padded number and the OBJ extension.

    With a padding of 4, frame 3/2 becomes 0001.5. Sub-frames are rounded to six decimal places.

    Args:
        sequence: The sequence.
        number: Frame number, 0 or more.
        padding: Minimum number of digits before the decimal point; None for the sequence's padding.
    """
    whole, part = divmod(number, 1)
    digits = str(int(whole)).zfill(sequence.padding if padding is None else padding)
    behind = f"{float(part):.6f}".rstrip("0")[1:] if part else ""
    return as_obj(Name(sequence.stem.raw + (digits + behind).encode() + sequence.suffix.raw))
