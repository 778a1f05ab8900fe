"""Tests of `number-forms`. The forms of numbers were seen in public data. Source of the range of binary32: IEEE 754."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import TEXT, broken, every
from tests.helpers.sequences import finding_of, heard, look, shot


@pytest.mark.parametrize("form", [b"+0.700000", b".700000", b"00.700000"])
def test_silent_then_broken(form: bytes, tmp_path: Path) -> None:
    text = TEXT.replace(b"vt 0.700000", b"vt " + form, 1)
    assert text != TEXT
    said, inspection = broken(tmp_path, "number-forms", shot() | {"manta.0005.obj": text})
    assert said == [("number-forms", "note", [5.0])]
    (where,) = finding_of(inspection, "number-forms").where
    assert form in text.split(b"\n")[(where.line or 0) - 1]


def test_a_point_without_decimals(tmp_path: Path) -> None:
    text = TEXT.replace(b"vt 0.000000 0.000000", b"vt 0. 0.")
    said, _ = broken(tmp_path, "number-forms", shot() | {"manta.0005.obj": text})
    assert said == [("number-forms", "note", [5.0])]


def test_a_number_beyond_single_precision(tmp_path: Path) -> None:
    """The largest number in binary32 is 3.4028e38 (IEEE 754)."""
    files = every(
        lambda text: text.replace(b"\nv -2.0", b"\nv -3.5e38\nv -2.0", 1).replace(b"-3.5e38\n", b"-3.5e38 0 0\n")
    )
    loose = {"unused-vertices": "the vertex that was added for this belongs to no face"}
    said, _ = broken(tmp_path, "number-forms", files, companions=loose)
    everywhere = [float(n) for n in range(1, 13)]
    assert said == [("number-forms", "error", everywhere), ("unused-vertices", "note", everywhere)]


def test_the_largest_numbers_of_single_precision_are_numbers(tmp_path: Path) -> None:
    said = heard(look(tmp_path, every(lambda text: text.replace(b"\nvt", b"\nv 3.3e38 0 0\nvt", 1))))
    assert "number-forms" not in {check for check, _, _ in said}


@pytest.mark.parametrize("form", [b"7e-1", b"0.7E+00", b"0.70000000000000000000", b"0.7"])
def test_exponents_and_many_decimals_are_common(form: bytes, tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot() | {"manta.0005.obj": TEXT.replace(b"vt 0.700000", b"vt " + form, 1)})) == []
