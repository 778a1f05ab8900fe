"""The times of samples: the time samplings of an archive, and the sample that a property has at a time."""

from __future__ import annotations

import math
import struct
import sys
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from inspector.formats.alembic.ogawa import ArchiveError
from inspector.names import counted

ACYCLIC = sys.float_info.max / 32
"""The period that means "each time is listed": the largest float64 / 32."""
TOLERANCE = 1e-5
"""Seconds by which a sample may miss the requested time and still count (the reference library's value)."""

_HEAD = struct.Struct("<IdI")


@dataclass(frozen=True, slots=True)
class At:
    """A time among samples.

    Attributes:
        index: Index of the last sample at or before the time; 0 for any earlier time.
        blend: Position between that sample and the next, from 0 to less than 1; 0 exactly at the sample.
    """

    index: int
    blend: float


@dataclass(frozen=True, slots=True)
class TimeSampling:
    """The times of samples, in seconds.

    Attributes:
        period: Seconds after which the times repeat; ACYCLIC if they don't.
        times: Times of one period, or all times of an acyclic sampling, in ascending order.
        largest: The highest sample count of any property with this sampling, as the writer recorded it (a constant
            counts as 1).
    """

    period: float
    times: tuple[float, ...]
    largest: int

    @property
    def acyclic(self) -> bool:
        """Whether each time is listed."""
        return self.period == ACYCLIC

    def time(self, index: int) -> float:
        """The time of a sample, in seconds.

        Raises:
            ArchiveError: The sample has no time.
        """
        if self.acyclic:
            if index >= len(self.times):
                raise ArchiveError(
                    f"sample {index + 1:,} has no time: the file lists only {counted(len(self.times), 'time')}"
                )
            return self.times[index]
        cycle, within = divmod(index, len(self.times))
        return self.times[within] + cycle * self.period

    def at(self, time: float, count: int) -> At:
        """Locate a time among samples.

        A time before the first sample counts as the time of the first sample, and a time after the last sample as that
        of the last.

        Args:
            time: The time, in seconds.
            count: Number of samples to consider, at least 1.

        Raises:
            ArchiveError: Some of these samples have no time.
        """
        if count == 1:
            return At(0, 0.0)
        last = self.time(count - 1)
        if time <= self.times[0] + TOLERANCE:
            return At(0, 0.0)
        if time >= last - TOLERANCE:
            return At(count - 1, 0.0)
        index = self._floor(time, count)
        before, after = self.time(index), self.time(index + 1)
        if time - before <= TOLERANCE:
            return At(index, 0.0)
        if after - time <= TOLERANCE:
            return At(index + 1, 0.0)
        return At(index, (time - before) / (after - before))

    def _floor(self, time: float, count: int) -> int:
        """Index of the last sample at or before a time that is between the first and the last of `count` samples."""
        if self.acyclic:
            return min(bisect_right(self.times, time, hi=count) - 1, count - 2)
        cycle = math.floor((time - self.times[0]) / self.period)
        within = bisect_right(self.times, time - cycle * self.period) - 1
        index = cycle * len(self.times) + within
        return max(0, min(index, count - 2))


def read_times(block: bytes) -> tuple[TimeSampling, ...]:
    """Read all time samplings of an archive, in the order of their indices.

    Raises:
        ArchiveError: A record is cut off or damaged: for example, its times are not finite or not in ascending order.
            In this case, no sample of the archive has a time.
    """
    return tuple(_records(block))


def _records(block: bytes) -> Iterator[TimeSampling]:
    at = 0
    while at < len(block):
        if len(block) - at < _HEAD.size:
            raise ArchiveError("the list of time samplings is cut off")
        largest, period, count = _HEAD.unpack_from(block, at)
        at += _HEAD.size
        if not 0 < count <= (len(block) - at) // 8:
            raise ArchiveError(f"a time sampling claims {count:,} times, which the file does not hold")
        times = struct.unpack_from(f"<{count}d", block, at)
        at += 8 * count
        if not all(map(math.isfinite, times)) or any(after <= before for before, after in pairwise(times)):
            raise ArchiveError("the times of a time sampling are not finite or don't increase")
        if not period > 0 or not math.isfinite(period):
            raise ArchiveError("the period of a time sampling is not a finite number above 0")
        if period != ACYCLIC and times[-1] - times[0] > period:
            raise ArchiveError("the times of a time sampling cover more than its period")
        yield TimeSampling(period, times, largest)


def times_block(samplings: Iterable[TimeSampling]) -> bytes:
    """Write time samplings as the bytes that `read_times` reads."""
    return b"".join(
        _HEAD.pack(one.largest, one.period, len(one.times)) + struct.pack(f"<{len(one.times)}d", *one.times)
        for one in samplings
    )
