"""Plots in cells: no value is ever lost, and both kinds of characters say the same."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from inspector.tui.canvas import cell_rows, envelope, plot
from inspector.tui.glyphs import ASCII, UNICODE

VALUES = arrays(float, st.integers(1, 400), elements=st.floats(-1e6, 1e6))


@settings(max_examples=40)
@given(VALUES, st.integers(1, 120))
def test_the_envelope_holds_the_least_and_the_greatest_value(values: np.ndarray, columns: int) -> None:
    low, high = envelope(values, columns)
    assert len(low) == len(high) == columns
    assert np.nanmin(low) == values.min()
    assert np.nanmax(high) == values.max()
    assert (low <= high).all()


def test_a_spike_of_one_frame_in_ten_thousand_reaches_the_top() -> None:
    values = np.zeros(10_000)
    values[6_321] = 1.0
    dots = plot(values, rows=8, columns=70, low=0.0, high=1.0)
    assert dots[0].sum() == 1
    assert dots[0, 6_321 * 70 // 10_000]


def test_frames_without_a_value_leave_a_gap() -> None:
    dots = plot(np.array([0.0, np.nan, 1.0]), rows=1, columns=3, low=0.0, high=1.0)
    assert dots.T.tolist() == [[False, True], [False, False], [True, False]]


def test_a_constant_is_a_line() -> None:
    dots = plot(np.full(5, 3.0), rows=2, columns=5, low=3.0, high=3.0)
    assert dots.sum(axis=0).tolist() == [1] * 5


def test_nothing_gives_nothing() -> None:
    assert not plot(np.empty(0), rows=2, columns=5, low=0.0, high=0.0).any()


def test_both_kinds_of_characters() -> None:
    dots = np.array([[0, 1, 0, 1], [0, 0, 1, 1]], bool)
    assert cell_rows(dots, UNICODE) == [" ▀▄█"]
    assert cell_rows(dots, ASCII) == [" '.:"]
