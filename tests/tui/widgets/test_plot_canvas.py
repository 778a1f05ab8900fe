"""Tests of curves that are drawn with characters."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from inspector.tui.glyphs import ASCII, UNICODE
from inspector.tui.widgets.plot_canvas import cell_rows, curve, in_columns, plot

VALUES = arrays(float, st.integers(1, 400), elements=st.floats(-1e6, 1e6))


@settings(max_examples=40)
@given(VALUES, st.integers(1, 120))
def test_the_columns_hold_the_least_and_the_greatest_value(values: np.ndarray, columns: int) -> None:
    low, high = in_columns(values, columns)
    assert len(low) == len(high) == columns
    assert np.nanmin(low) == values.min()
    assert np.nanmax(high) == values.max()
    assert (low <= high).all()


def test_a_spike_of_one_frame_in_ten_thousand_reaches_the_top() -> None:
    values = np.zeros(10_000)
    values[6_321] = 1.0
    drawn = curve(values, 8, 70, ASCII)
    assert (drawn.low, drawn.high) == (0.0, 1.0)
    column = 6_321 * 70 // 10_000
    assert [at for at, letter in enumerate(drawn.lines[0]) if letter != " "] == [column]
    assert curve(values, 8, 70, UNICODE).lines[0][column] != " "


def test_frames_without_a_value_leave_a_gap() -> None:
    assert curve(np.array([0.0, np.nan, 1.0]), 1, 3, ASCII).lines == [". '"]
    assert curve(np.array([0.0, np.nan, 1.0]), 1, 3, UNICODE).lines == ["⣀ ⠉"]


def test_a_constant_is_a_line() -> None:
    drawn = curve(np.full(5, 3.0), 2, 5, ASCII)
    assert (drawn.low, drawn.high) == (3.0, 3.0)
    assert sum(line.count(letter) for line in drawn.lines for letter in "'.") == 5


def test_a_line_that_jumps_reads_as_one_line() -> None:
    """`picture.charts.joined` extends two neighbouring columns to the middle of the vertical gap between them."""
    assert curve(np.array([0.0, 1.0]), 2, 2, ASCII).lines == [".:", ": "]


def test_numbers_beyond_any_mesh_break_nothing() -> None:
    drawn = curve(np.array([-1.7e308, 1.7e308, np.inf]), 2, 3, ASCII)
    assert drawn.lines == [".: ", ":  "]


def test_nothing_gives_nothing() -> None:
    drawn = curve(np.empty(0), 2, 5, UNICODE)
    assert drawn.lines == [" " * 5] * 2
    assert np.isnan([drawn.low, drawn.high]).all()
    nan = np.full(5, np.nan)
    assert not plot(nan, nan, rows=2, low=0.0, high=0.0).any()


def test_both_kinds_of_characters() -> None:
    dots = np.array([[0, 1, 0, 1], [0, 0, 1, 1]], bool)
    assert cell_rows(dots, ASCII) == [" '.:"]
    # The Unicode Standard, chapter 21: dots 1 to 8 of a Braille pattern are its bits, from U+2800.
    fine = np.zeros((4, 4), bool)
    fine[0, 0] = fine[3, 3] = True
    assert cell_rows(fine, UNICODE) == ["\u2801\u2880"]


def test_an_axis_spans_at_least_a_hundredth_of_the_value() -> None:
    """If the values differ by more than a hundredth of their magnitude, the axis ends at the extreme values."""
    noise = curve(np.array([1.0, 1.0098]), 4, 10, UNICODE)
    assert noise.high - noise.low == pytest.approx(0.010098)
    move = curve(np.array([1.0, 1.0102]), 4, 10, UNICODE)
    assert (move.low, move.high) == (1.0, 1.0102)
