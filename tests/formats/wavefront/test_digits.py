"""Tests of the digits of written numbers. Source: Python's '%.*f'."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from inspector.arrays import Floats
from inspector.formats.wavefront import digit_words
from inspector.formats.wavefront.digits import format_faces, format_rows
from inspector.formats.wavefront.indices import NOT_GIVEN, read_faces
from inspector.formats.wavefront.numbers import read_numbers

ANY = st.one_of(st.floats(), st.floats(-1e6, 1e6), st.floats(-1e-6, 1e-6))


def expected(keyword: bytes, values: Floats, decimals: int, newline: bytes) -> bytes:
    numbers = [[b"%.*f" % (decimals, number) for number in row] for row in values.tolist()]
    return b"".join(b" ".join([keyword, *row]) + newline for row in numbers)


@given(
    arrays.arrays(np.float64, st.tuples(st.integers(0, 8), st.integers(1, 7)), elements=ANY),
    st.integers(0, 25),
    st.sampled_from([b"\n", b"\r\n"]),
)
def test_rows(values: Floats, decimals: int, newline: bytes) -> None:
    assert format_rows(b"vt", values, decimals, newline) == expected(b"vt", values, decimals, newline)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1), st.integers(0, 9))
@example([0.0, -0.0, 0.5, -0.5, 1.5, 2.5, 999999.5, -0.0001], 0)
@example([0.125, 0.375, -0.125, 0.05, 0.15, 9.995, 0.995, -0.001], 2)
def test_modest_rows(numbers: list[float], decimals: int) -> None:
    values = np.array(numbers)[:, None]
    assert format_rows(b"v", values, decimals) == expected(b"v", values, decimals, b"\n")


@pytest.mark.parametrize("decimals", range(10))
def test_half_way(decimals: int) -> None:
    """Many of the values are exactly or almost halfway between two rounded results."""
    random = np.random.default_rng(decimals)
    halves = random.integers(0, 2000, 900) / 2.0 ** random.integers(0, decimals + 2, 900)
    near = (random.integers(0, 10**6, 900) + 0.5) / 10.0**decimals
    centre = np.concatenate([halves, near])
    values = np.stack([centre, np.nextafter(centre, -1), np.nextafter(centre, np.inf), -centre], axis=1)
    assert format_rows(b"v", values, decimals) == expected(b"v", values, decimals, b"\n")


@given(arrays.arrays(np.float64, (7, 3), elements=st.floats(-1e5, 1e5)), st.integers(1, 12))
def test_rows_come_back(values: Floats, decimals: int) -> None:
    table = read_numbers(format_rows(b"v", np.tile(values, (20, 1)), decimals), b"v", 3, 3)
    rounded = [float(b"%.*f" % (decimals, number)) for number in values.ravel().tolist()]
    assert table.values.ravel().view(np.int64).tolist() == np.array(rounded * 20).view(np.int64).tolist()
    assert table.plain
    assert table.decimals == decimals


def test_rows_of_many_pieces() -> None:
    values = np.random.default_rng(1).normal(0, 50, (20_000, 3))
    values[9_000] = [1e300, np.nan, -np.inf]
    assert format_rows(b"vn", values, 4) == expected(b"vn", values, 4, b"\n")


@given(st.text(" \t\r\nv1.-\x1c", max_size=40), st.integers(1, 5))
@example("", 1)
def test_words_are_counted_as_split_counts_them(text: str, piece: int) -> None:
    r"""The tool treats all control characters as spaces.

    bytes.split doesn't treat the control character \x1c as a space, so the test replaces it.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(digit_words, "PIECE", piece)
        assert digit_words.count_words(text.encode()) == len(text.replace("\x1c", " ").encode().split())


@st.composite
def corners(draw: st.DrawFn) -> tuple[list[int], list[tuple[int, int, int]]]:
    sizes = draw(st.lists(st.integers(0, 6), max_size=30))
    index = st.one_of(st.integers(0, 30), st.integers(0, 2**31 - 1))
    slot = st.one_of(st.just(-1), index)
    return sizes, [draw(st.tuples(index, slot, slot)) for _ in range(sum(sizes))]


def corner(v: int, vt: int, vn: int) -> str:
    if vn < 0:
        return f"{v + 1}" if vt < 0 else f"{v + 1}/{vt + 1}"
    return f"{v + 1}//{vn + 1}" if vt < 0 else f"{v + 1}/{vt + 1}/{vn + 1}"


@given(corners(), st.sampled_from([b"\n", b"\r\n"]))
def test_faces(faces: tuple[list[int], list[tuple[int, int, int]]], newline: bytes) -> None:
    sizes, slots = faces
    offsets = np.append(0, np.cumsum(sizes, dtype=np.int64))
    words = [corner(*slot) for slot in slots]
    lines = [" ".join(["fo", *words[start:stop]]) for start, stop in pairwise(offsets.tolist())]
    v, vt, vn = np.array(slots, np.int32).reshape(-1, 3).T
    text = format_faces(offsets, v, vt, vn, newline, b"fo")
    assert text == "".join(line + newline.decode() for line in lines).encode()


def test_faces_come_back() -> None:
    random = np.random.default_rng(2)
    offsets = np.append(0, np.cumsum(random.integers(3, 6, 20_000)))
    v, vt, vn = random.integers(0, 10**6, (3, int(offsets[-1])), dtype=np.int32)
    form = np.repeat(random.integers(0, 4, 20_000), np.diff(offsets))
    vt, vn = np.where(form & 1, vt, -1).astype(np.int32), np.where(form & 2, vn, -1).astype(np.int32)
    table = read_faces(format_faces(offsets, v, vt, vn))
    assert table.problems == ()
    assert np.array_equal(table.offsets, offsets)
    for back, slot in ((table.v, v), (table.vt, vt), (table.vn, vn)):
        assert np.array_equal(back, np.where(slot < 0, NOT_GIVEN, slot.astype(np.int64) + 1))
