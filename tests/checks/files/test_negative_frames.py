"""Tests of `negative-frames`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.inspection.inspection import Inspection
from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, look_at_all, shot


@pytest.mark.parametrize("form", ["manta.{:04}.obj", "manta.{:05}.obj", "manta.{}.obj"])
def test_a_run_in_below_zero(form: str, tmp_path: Path) -> None:
    """In Python and in C's printf, the width of a number includes its sign, so -003 has a width of 4."""
    below = {form.format(n): wing(n).text() for n in (-3, -2, -1)}

    def inspect(folder: Path) -> Inspection:
        shots = look_at_all(folder, below).inspections
        assert [heard(one) for one in shots if b"-" not in one.sequence.stem.raw] == [[]]
        (one,) = (one for one in shots if b"-" in one.sequence.stem.raw)
        return one

    said, inspection = broken(tmp_path, "negative-frames", shot(), inspect=inspect)
    assert said == [("negative-frames", "warning", [1.0, 2.0, 3.0])]
    finding = finding_of(inspection, "negative-frames")
    assert finding.message.startswith("3 files, such as `manta.-")
    assert "`, have a minus sign before the frame number and are read as a separate sequence" in finding.message
    assert len(finding.where) == 3


def test_a_minus_that_separates_is_no_sign(tmp_path: Path) -> None:
    """A hyphen before the number is a minus sign only if another sequence has the same name without the hyphen. Here,
    there is no such sequence."""
    for stem in ("manta-", "manta_-", "manta.-"):
        files = {name.replace("manta.0", f"{stem}0"): data for name, data in shot().items()}
        assert heard(look(tmp_path / stem, files)) == []
