"""Tests of `far-from-origin`. Source: IEEE 754, binary32: 24 significant binary digits."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.broken.placement import placed_at
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look
from tests.helpers.surfaces import EVERY

DIAGONAL = 4.3  # diagonal of the wing (rounded), in scene units


def test_far_away(tmp_path: Path) -> None:
    """From 2^20 to 2^21, single-precision numbers are 2^-3 apart, because 23 binary digits follow the first digit."""
    said, inspection = broken(tmp_path, "far-from-origin", placed_at(1.5e6))
    assert said == [("far-from-origin", "warning", EVERY)]
    finding = finding_of(inspection, "far-from-origin")
    assert finding.numbers["step"] == 2.0**-3
    assert finding.numbers["steps"] == pytest.approx(DIAGONAL * 8, rel=0.05)
    assert finding.fixes == ("align", "offset")


@pytest.mark.parametrize(("power", "seen"), [(11, False), (13, True)])
def test_where_it_begins(power: int, seen: bool, tmp_path: Path) -> None:
    """Above 2^11, the diagonal of 4.3 units has 4.3 / 2^(11 - 23) = 17,600 steps of single precision; above 2^13, it
    has 4,400. At least 10,000 are required (FEWEST_STEPS)."""
    said = heard(look(tmp_path, placed_at(1.5 * 2.0**power)))
    assert said == ([("far-from-origin", "warning", EVERY)] if seen else [])


def test_numbers_beyond_single_precision_are_told_of_as_that(tmp_path: Path) -> None:
    assert "far-from-origin" not in {check for check, _, _ in heard(look(tmp_path, placed_at(1e39)))}
