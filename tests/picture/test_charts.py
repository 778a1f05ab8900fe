"""Tests of the values and ticks of charts, before they are drawn."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspector.picture.charts import envelope, joined, ticks


@pytest.mark.parametrize("spike", [0, 1, 517, 9_998, 9_999])
@pytest.mark.parametrize("columns", [1, 7, 80, 12_000])
def test_a_spike_of_one_frame_is_never_lost(spike: int, columns: int) -> None:
    values = np.sin(np.arange(10_000) / 50.0)
    values[spike] = 100.0
    low, high = envelope(np.arange(10_000.0), values, 0.0, 9_999.0, columns)
    column = min(spike * columns // 9_999, columns - 1)
    assert np.flatnonzero(high == 100.0).tolist() == [column]
    assert joined(low, high)[1][column] == 100.0


@given(
    st.lists(st.tuples(st.integers(-50, 50), st.floats(-9, 9) | st.just(np.nan)), max_size=40),
    st.integers(1, 12),
)
def test_every_value_lies_in_its_column(pairs: list[tuple[int, float]], columns: int) -> None:
    """Column k covers the part of the range from k / columns to (k + 1) / columns. The expected values come from brute
    force."""
    pairs.sort(key=lambda pair: pair[0])
    places, values = (np.array([pair[i] for pair in pairs], float) for i in (0, 1))
    low, high = envelope(places, values, -20.0, 30.0, columns)
    for column in range(columns):
        inside = [
            value
            for place, value in pairs
            if -20 <= place <= 30 and np.isfinite(value) and min((place + 20) * columns // 50, columns - 1) == column
        ]
        expected = (min(inside), max(inside)) if inside else (np.nan, np.nan)
        assert np.array_equal([low[column], high[column]], expected, equal_nan=True)


def test_a_single_place_and_no_value_at_all() -> None:
    low, high = envelope(np.array([5.0]), np.array([2.0]), 5.0, 5.0, 3)
    assert np.array_equal(low, [2.0, np.nan, np.nan], equal_nan=True)
    assert np.array_equal(high, low, equal_nan=True)
    assert np.isnan(envelope(np.zeros(0), np.zeros(0), 0.0, 1.0, 4)).all()


def test_joined_columns_touch_and_gaps_stay() -> None:
    low = np.array([0.0, 4.0, np.nan, 5.0, 1.0])
    high = np.array([1.0, 6.0, np.nan, 6.0, 2.0])
    below, above = joined(low, high)
    assert np.array_equal(below, [0.0, 2.5, np.nan, 3.5, 1.0], equal_nan=True)
    assert np.array_equal(above, [2.5, 6.0, np.nan, 6.0, 3.5], equal_nan=True)


@pytest.mark.parametrize(
    ("low", "high", "most", "expected"),
    [
        (0.0, 10.0, 6, [0, 2, 4, 6, 8, 10]),
        (0.0, 10.0, 5, [0, 5, 10]),
        (-0.13, 0.21, 5, [-0.1, 0.0, 0.1, 0.2]),
        (1001.0, 1240.0, 4, [1050, 1100, 1150, 1200]),
        (1001.0, 1240.0, 3, [1100, 1200]),
        (3.0, 3.0, 5, [3]),
    ],
)
def test_ticks_are_round(low: float, high: float, most: int, expected: list[float]) -> None:
    assert ticks(low, high, most) == pytest.approx(expected)


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(2, 12))
def test_ticks_lie_inside_and_are_no_more_than_asked_for(low: float, reach: float, most: int) -> None:
    found = ticks(low, low + reach, most)
    assert len(found) <= most
    assert (found >= low - reach * 1e-6).all()
    assert (found <= low + reach * (1 + 1e-6)).all()
