"""The time samplings of an archive, and the search for the sample at a given time."""

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
"""The period that marks a sampling as acyclic: the largest float64, divided by 32. An acyclic sampling lists the time
of each sample.
"""
TOLERANCE = 1e-5
"""Maximum difference, in seconds, between times that count as equal. The value is that of the reference library."""

_HEAD = struct.Struct("<IdI")


@dataclass(frozen=True, slots=True)
class At:
    """The position of a time among samples.

    Attributes:
        index: Index of the last sample at or before the time; 0 for a time before the first sample.
        blend: Position of the time between this sample and the next, from 0 to less than 1.
    """

    index: int
    blend: float


@dataclass(frozen=True, slots=True)
class TimeSampling:
    """The times of samples, in seconds.

    Attributes:
        period: Number of seconds after which the times repeat; ACYCLIC if they don't repeat.
        times: Times of one period or, for an acyclic sampling, all times, in ascending order.
        largest: Largest recorded number of samples of any property with this sampling. A constant counts as one sample.
    """

    period: float
    times: tuple[float, ...]
    largest: int

    @property
    def acyclic(self) -> bool:
        """Whether the time of each sample is listed."""
        return self.period == ACYCLIC

    def time(self, index: int) -> float:
        """Return the time of a sample, in seconds.

        Args:
            index: Index of the sample, from 0.

        Raises:
            ArchiveError: The sampling lists no time for this sample.
        """
        if self.acyclic:
            if index >= len(self.times):
                raise ArchiveError(
                    f"sample {index + 1:,} has no time: the file lists only {counted(len(self.times), 'sample time')}"
                )
            return self.times[index]
        cycle, within = divmod(index, len(self.times))
        return self.times[within] + cycle * self.period

    def at(self, time: float, count: int) -> At:
        """Locate a time among samples. Times outside the samples are treated as the time of the first or the last
        sample.

        Args:
            time: The time, in seconds.
            count: Number of samples of the property, at least 1.

        Raises:
            ArchiveError: The sampling lists fewer times than there are samples.
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
        """Return the index of the last sample at or before a time that is between the first and the last sample; at
        most `count` - 2."""
        if self.acyclic:
            return min(bisect_right(self.times, time, hi=count) - 1, count - 2)
        cycle = math.floor((time - self.times[0]) / self.period)
        within = bisect_right(self.times, time - cycle * self.period) - 1
        index = cycle * len(self.times) + within
        return max(0, min(index, count - 2))


def read_times(block: bytes) -> tuple[TimeSampling, ...]:
    """Read all time samplings of an archive, in the order of their indices.

    Raises:
        ArchiveError: A time sampling is cut off or invalid, for example because its times are not in ascending order.
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
            raise ArchiveError(f"a time sampling has an impossible number of times ({count:,})")
        times = struct.unpack_from(f"<{count}d", block, at)
        at += 8 * count
        if not all(map(math.isfinite, times)) or any(after <= before for before, after in pairwise(times)):
            raise ArchiveError("the times of a time sampling are not finite, or not in ascending order")
        if not period > 0 or not math.isfinite(period):
            raise ArchiveError("the period of a time sampling is not a positive, finite number")
        if period != ACYCLIC and times[-1] - times[0] > period:
            raise ArchiveError("in a time sampling, the last time is more than one period after the first time")
        yield TimeSampling(period, times, largest)


def times_block(samplings: Iterable[TimeSampling]) -> bytes:
    """Encode time samplings in the form that `read_times` reads."""
    return b"".join(
        _HEAD.pack(one.largest, one.period, len(one.times)) + struct.pack(f"<{len(one.times)}d", *one.times)
        for one in samplings
    )
