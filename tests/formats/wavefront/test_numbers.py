"""Tests of reading numbers. The results must equal those of Python's float() to the last bit, including the sign of
zero."""

from __future__ import annotations

import re
from collections import Counter
from decimal import Decimal, localcontext

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from inspector.formats.problems import Place
from inspector.formats.wavefront.numbers import NumberTable, read_numbers
from inspector.formats.wavefront.numbers_fixed import FixedForm
from inspector.formats.wavefront.numbers_general import read_general
from inspector.names import Name

# Inputs that are the hardest to round in a conversion from decimal to binary: V. Paxson, "A Program for Testing IEEE
# Decimal-Binary Conversion" (1991), table 1. The list is from memory, but float() gives the expected values.
HARD = (
    b"5e+125 69e+267 999e-26 7861e-34 75569e-254 928609e-261 9210917e+80 84863171e+114 653777767e+273 "
    b"5232604057e-298 27235667517e-109 653532977297e-123 3142213164987e-294 46202199371337e-72 "
    b"231010996856685e-73 9324754620109615e+212 78459735791271921e+49 272104041512242479e+200 "
    b"6802601037806061975e+198 20505426358836677347e-221 836168422905420598437e-234 4891559871276714924261e+222"
).split()
# Halfway between two float64 values, and next to it: 2^53 + 1, 1 + 2^-53; the smallest normal and subnormal numbers.
EDGES = (
    b"9007199254740993 9007199254740993.00000000000000000001 1.00000000000000011102230246251565404236316680908203125 "
    b"1.00000000000000011102230246251565404236316680908203124 1.00000000000000011102 2.2250738585072012e-308 "
    b"4.9e-324 2e-324 -1e-400 1.7976931348623157e308 0 -0 -0.0 -0.000000 0e999 -.0 -0e-5"
).split()


def exactly(values: np.ndarray) -> list[int]:
    """Return the bits of the values. -0.0 differs from 0.0, but all NaNs are the same."""
    bits = np.where(np.isnan(values), np.nan, values).view(np.int64)
    return bits.ravel().tolist()


def reference(text: bytes, least: int, most: int) -> tuple[list[list[float]], Counter[str], int]:
    rows: list[list[float]] = []
    kinds: Counter[str] = Counter()
    decimals = 0
    for line in text.split(b"\n"):
        if not line.strip(b" \t\r"):
            continue
        data = re.split(rb"#(?!(?:IND|INF|QNAN|SNAN))|(?<!1\.)#", line)[0]
        kinds["trailing-comment"] += data != line
        row = []
        tokens = [token for token in re.split(rb"[ \t\r]", data) if token][1:]
        kinds["few-numbers"] += len(tokens) < least
        kinds["bad-number"] += max(0, len(tokens) - most)
        for token in tokens[:most]:
            mantissa, _, exponent = token.lower().partition(b"e")
            digits = mantissa.lstrip(b"+-") if mantissa[1:2] not in (b"+", b"-") else b"?"
            good = digits.replace(b".", b"", 1).isdigit() and (not exponent or exponent.lstrip(b"+-").isdigit())
            good = good and not (b"e" in token.lower() and not re.fullmatch(rb"[+-]?[0-9]+", exponent))
            value = float(token) if good else np.nan
            if good and np.isfinite(value):
                behind = len(mantissa.partition(b".")[2]) - int(exponent[:9] or 0)
                decimals = max(decimals, min(behind, 20))
            elif re.fullmatch(rb"[+-]?\d*,\d+([eE][+-]?\d+)?", token):
                kinds["decimal-comma"] += 1
                value = np.nan
            else:
                kinds["bad-number"] += 1
                value = np.nan
            row.append(value)
        rows.append(row)
    return rows, +kinds, decimals


def check(text: bytes, keyword: bytes = b"v", least: int = 3, most: int = 7) -> NumberTable:
    table = read_numbers(text, keyword, least, most)
    rows, kinds, decimals = reference(text, least, most)
    width = max([least, *map(len, rows)])
    expected = np.array([row + [np.nan] * (width - len(row)) for row in rows]).reshape(len(rows), width)
    assert table.values.shape == expected.shape
    assert exactly(table.values) == exactly(expected)
    assert {problem.kind: problem.count for problem in table.problems} == kinds
    assert table.decimals == decimals
    given_numbers = [width] * len(rows) if table.columns is None else table.columns.tolist()
    assert given_numbers == list(map(len, rows))
    assert (table.columns is None) == all(len(row) == width for row in rows)
    blank_lines = sum(not line.strip() for line in text.removesuffix(b"\n").split(b"\n"))
    assert table.plain == (table.columns is None and not kinds and not blank_lines)
    assert not table.values.flags.writeable
    return table


def block(tokens: list[bytes], columns: int = 3, lines: int = 60, keyword: bytes = b"v", end: bytes = b"\n") -> bytes:
    """Return lines of numbers. By default, there are enough lines for the fast code to be used."""
    many = tokens * (lines * columns // len(tokens) + 1)
    rows = [many[start : start + columns] for start in range(0, lines * columns, columns)]
    return b"".join(keyword + b" " + b" ".join(row) + end for row in rows)


FINITE = st.floats(allow_nan=False, allow_infinity=False)
MODEST = st.floats(-1e5, 1e5)


@given(st.lists(MODEST, min_size=5), st.integers(1, 17), st.integers(3, 7), st.sampled_from([b"\n", b"\r\n"]))
def test_fixed_decimals(numbers: list[float], decimals: int, columns: int, end: bytes) -> None:
    table = check(block([b"%.*f" % (decimals, number) for number in numbers], columns, end=end))
    assert table.plain
    assert table.decimals == decimals


ALL_FORMS = st.sampled_from([b"%.17g", b"%.9g", b"%.17e", b"%.6E", b"%.3f", b"%+.1f", b"%r"])
DIGITS = st.from_regex(rb"\A[+-]?([0-9]{1,25}\.?[0-9]{0,30}|\.[0-9]{1,30})([eE][+-]?[0-9]{1,3})?\Z")


@given(st.lists(st.tuples(FINITE, ALL_FORMS), min_size=1))
def test_any_form(numbers: list[tuple[float, bytes]]) -> None:
    assert check(block([form % number for number, form in numbers])).plain


@given(st.lists(DIGITS, min_size=1))
@example([*HARD, *EDGES])
@example(HARD)
@example([token for token in EDGES if b"e" not in token])
def test_any_digits(tokens: list[bytes]) -> None:
    check(block(tokens))


@pytest.mark.parametrize("digits", [17, 18, 20, 22])
def test_close_to_half_way(digits: int) -> None:
    """The numbers are so close to the midpoint between two consecutive float64 values that a slightly inexact reader
    would choose the wrong value."""
    random = np.random.default_rng(digits)
    below = random.uniform(0.01, 900.0, 600)
    halves = [(Decimal(low) + Decimal(high)) / 2 for low, high in zip(below, np.nextafter(below, np.inf), strict=True)]
    with localcontext() as context:
        context.prec = digits
        tokens = [str(+half).encode() for half in halves]
    check(block(tokens, lines=200))
    check(block([token + b"e-12" for token in tokens], lines=200))


@pytest.mark.parametrize("seed", range(4))
def test_whole_pieces_agree_with_float(seed: int) -> None:
    """A text of more than 256 KB is read in pieces."""
    random = np.random.default_rng(seed)
    numbers = (random.normal(0, 10.0 ** random.integers(-3, 4), 3 * 12_000)).tolist()
    form = (b"%.6f", b"%.17g", b"%.8e", b"%g")[seed]
    text = (b"v " + b" ".join([form] * 3) + b"\n") * 12_000 % tuple(numbers)
    assert len(text) > 1 << 18 or seed == 3
    assert check(text).plain


def test_the_fast_paths_are_taken() -> None:
    """Fast code that always gave up would pass all other tests."""
    fixed = block([b"-12.345678", b"0.123456", b"3.000000", b"-0.000000"])
    form = FixedForm.of_line(fixed[: fixed.index(b"\n") + 1], b"v")
    assert form is not None
    values = form.read(fixed)
    assert values is not None
    assert exactly(values[:1]) == exactly(np.array([-12.345678, 0.123456, 3.0]))
    general = read_general(block([b"1.25e-3", b"7", b"-.5", b"123456.12345678901234567"]), b"v")
    assert general is not None
    assert exactly(general[0][:1]) == exactly(np.array([1.25e-3, 7.0, -0.5]))
    assert general[1] == 17


COMMAS = [b"0,5", b"-0,25", b",5", b"1,5e3"]
JUNK = b"nan inf -inf 1e400 -1.#IND 1.#QNAN 1.#INF00 1d0 0x10 1.2.3 1e 1_000 1e+ - + . --1 +-1 1-2 e5".split(b" ")
JUNK += b".e5 1e5.0 1e5e5 1/2 \x001 1\x0b2 v 1, 1,2,3 1.5, \xd9\xa3 1e99999999999".split(b" ")
JUNK += [b"1" * 5000, *COMMAS]


@pytest.mark.parametrize("lines", [1, 60])
@pytest.mark.parametrize("junk", JUNK)
def test_bad_numbers(junk: bytes, lines: int) -> None:
    table = check(block([b"1.5", junk, b"2.5"], lines=lines))
    assert np.isnan(table.values[:, 1]).all()
    kind = "decimal-comma" if junk in COMMAS else "bad-number"
    (problem,) = table.problems
    assert (problem.kind, problem.count) == (kind, lines)
    assert problem.places[0] == Place(0, 0, Name(junk))


STRAY = [b"", b"\n \n", *(bytes([byte]) for byte in b" \t\r\n+-.eE05#,v/x\x00\x0b\xff")]


@given(st.data())
@settings(max_examples=150)
def test_hostile_text(data: st.DataObject) -> None:
    good = data.draw(st.sampled_from([b"-12.345678 0.123456 3.000000", b"1 2.5e-3 .5", b"0.12345678901234567 1. +7"]))
    text = bytearray((b"v " + good + b"\n") * 40)
    for at in data.draw(st.lists(st.integers(2, len(text) - 1), max_size=4)):
        text[at : at + 1] = data.draw(st.sampled_from(STRAY))
    lines = [line for line in bytes(text).split(b"\n") if re.match(rb"[ \t\r]*(v[ \t\r]|v?$)", line)]
    check(b"\n".join(lines) + data.draw(st.sampled_from([b"", b"\n", b"\r\n"])))


# Forms of numbers that were seen in public data.
@pytest.mark.parametrize(
    ("line", "values", "kinds"),
    [
        (b"v 1.0E+00 .73 5.", [1.0, 0.73, 5.0], {}),
        (b"v +0.5 1 2", [0.5, 1, 2], {}),
        (b"\tv\t 1   2\t3 \r", [1, 2, 3], {}),
        (b"v 0 1", [0, 1, np.nan], {"few-numbers": 1}),
        (b"v", [np.nan] * 3, {"few-numbers": 1}),
        (b"v 0,5 0,0 1,2", [np.nan] * 3, {"decimal-comma": 3}),
        (b"v nan 1e400 -1.#IND", [np.nan] * 3, {"bad-number": 3}),
        (b"v 1 2 3 # x", [1, 2, 3], {"trailing-comment": 1}),
        (b"v 1 2 3# 4", [1, 2, 3], {"trailing-comment": 1}),
        (b"v 1 2 3 1", [1, 2, 3, 1], {}),
        (b"v 1 2 3 .1 .2 .3", [1, 2, 3, 0.1, 0.2, 0.3], {}),
        (b"v 1 2 3 4 5 6 7 8 9", [1, 2, 3, 4, 5, 6, 7], {"bad-number": 2}),
    ],
)
@pytest.mark.parametrize("lines", [1, 200])
def test_by_example(line: bytes, values: list[float], kinds: dict[str, int], lines: int) -> None:
    table = check((line + b"\n") * lines)
    assert exactly(table.values[-1]) == exactly(np.array(values, float))
    assert {problem.kind: problem.count for problem in table.problems} == {k: n * lines for k, n in kinds.items()}


def test_texture_coordinates_may_be_one_to_three() -> None:
    table = check(b"vt 0.5\nvt 0.5 1\nvt 0.5 1 0\n" * 40, b"vt", 1, 3)
    assert table.columns is not None
    assert table.columns.tolist() == [1, 2, 3] * 40
    assert table.problems == ()


def test_places_count_lines_and_rows_from_the_start_of_the_block() -> None:
    good = b"v 1.5 2.5 3.5\n"
    lines = 30_000  # more than one piece
    table = read_numbers(good * lines + b" \n" + good + b"v 1 x 3\n" + good, b"v", 3, 7)
    (problem,) = table.problems
    assert problem.places == (Place(lines + 2, lines + 1, Name(b"x")),)
    assert np.isfinite(table.values).sum() == 3 * (lines + 3) - 1


def test_a_piece_with_more_columns_widens_the_table() -> None:
    text = b"v 1.5 2.5 3.5\n" * 30_000 + b"v 1.5 2.5 3.5 0.1 0.2 0.3\n" * 30_000
    table = check(text)
    assert table.columns is not None
    assert np.unique(table.columns).tolist() == [3, 6]
    assert not table.plain


def test_nothing() -> None:
    table = read_numbers(b"", b"v", 3, 7)
    assert table.values.shape == (0, 3)
    assert (table.columns, table.decimals, table.problems) == (None, 0, ())
