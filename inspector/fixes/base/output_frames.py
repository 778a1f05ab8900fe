"""The list of frames to write: for each its file name and the frames of the source that it comes from."""

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
    """One frame to write.

    number: as in the source, also for a frame that the source lacks. file: its name in the delivered folder.
    sources: indices of `series.facts`, one, or several for a blend; the first gives all that is not blended. weights:
    one each, sum 1. made: how the frame was invented, None where it stands in the source.
    """

    number: Fraction
    file: Name
    sources: tuple[int, ...]
    weights: tuple[float, ...] = (1.0,)
    made: str | None = None

    @property
    def file_name(self) -> str:
        """For paths."""
        return os.fsdecode(self.file.raw)


OutputFrames = tuple[OutputFrame, ...]


def source_frames(series: Series) -> OutputFrames:
    """Every frame of the source under its own name; a frame of another format that can be read is written as OBJ."""
    return tuple(OutputFrame(one.number, _delivered(one), (index,)) for index, one in enumerate(series.facts))


def _delivered(facts: FrameFacts) -> Name:
    return as_obj(facts.file.name) if facts.readable else facts.file.name


def as_obj(file: Name) -> Name:
    """The name of a frame's file with the ending of OBJ, which every frame that can be read is written as."""
    stem, dot, ending = file.raw.rpartition(b".")
    return file if ending.lower() == b"obj" else Name(stem + dot + b"obj")


def numbered_file(sequence: FrameSequence, number: Fraction, padding: int | None = None) -> Name:
    """The sequence's file name for a frame number: stem, padded number, ending. 3/2 gives 0001.5.

    A sub-frame that no decimal number states (1/3) is rounded to six places.
    """
    whole, part = divmod(number, 1)
    digits = str(int(whole)).zfill(sequence.padding if padding is None else padding)
    behind = f"{float(part):.6f}".rstrip("0")[1:] if part else ""
    return as_obj(Name(sequence.stem.raw + (digits + behind).encode() + sequence.suffix.raw))
