"""Tests of the three kinds of time sampling in the format."""

from __future__ import annotations

import pytest

from inspector.formats.alembic.ogawa import ArchiveError
from inspector.formats.alembic.times import ACYCLIC, TOLERANCE, At, TimeSampling, read_times, times_block

UNIFORM = TimeSampling(0.5, (2.0,), 10)
CYCLIC = TimeSampling(1.0, (0.8, 1.0, 1.2), 10)
LISTED = TimeSampling(ACYCLIC, (1.0, 1.5, 4.0), 3)


def test_the_period_that_says_listed() -> None:
    # These bytes are found in archives: the largest float64, divided by 32.
    assert ACYCLIC.hex() == float.fromhex("0x1.fffffffffffffp+1018").hex()


def test_times_of_samples() -> None:
    assert [UNIFORM.time(index) for index in (0, 1, 7)] == [2.0, 2.5, 5.5]
    assert [CYCLIC.time(index) for index in (0, 2, 3, 7)] == [0.8, 1.2, 1.8, 3.0]
    assert [LISTED.time(index) for index in range(3)] == [1.0, 1.5, 4.0]
    with pytest.raises(ArchiveError, match="sample 4 has no time"):
        LISTED.time(3)


@pytest.mark.parametrize("sampling", [UNIFORM, CYCLIC, LISTED])
def test_every_sample_is_found_at_its_time(sampling: TimeSampling) -> None:
    count = 3 if sampling.acyclic else 40
    for index in range(count):
        for off in (-TOLERANCE * 0.9, 0.0, TOLERANCE * 0.9):
            assert sampling.at(sampling.time(index) + off, count) == At(index, 0.0)
    for index in range(count - 1):
        before, after = sampling.time(index), sampling.time(index + 1)
        found = sampling.at(before + 0.25 * (after - before), count)
        assert found.index == index
        assert found.blend == pytest.approx(0.25)


@pytest.mark.parametrize("sampling", [UNIFORM, CYCLIC, LISTED])
def test_before_the_first_and_after_the_last(sampling: TimeSampling) -> None:
    assert sampling.at(-1e9, 3) == At(0, 0.0)
    assert sampling.at(1e9, 3) == At(2, 0.0)
    assert sampling.at(123.0, 1) == At(0, 0.0)


def test_just_outside_the_tolerance_is_between() -> None:
    assert UNIFORM.at(2.5 + TOLERANCE * 1.1, 10).blend > 0
    assert UNIFORM.at(2.5 - TOLERANCE * 1.1, 10).index == 0


def test_records_are_read_as_they_are_written() -> None:
    samplings = (TimeSampling(1.0, (0.0,), 1), UNIFORM, CYCLIC, LISTED)
    assert read_times(times_block(samplings)) == samplings


def test_5000_frames_stay_on_their_numbers() -> None:
    film = TimeSampling(1 / 24, (1001 / 24,), 5000)
    assert all(film.at((1001 + index) / 24, 5000) == At(index, 0.0) for index in range(0, 5000, 7))
