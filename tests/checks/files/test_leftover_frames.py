"""Tests of `leftover-frames`. The modification times are like those that exports, copies and archives leave (common
practice, no source)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Files, finding_of, frames, heard, look, shot, write
from tests.helpers.written import HOUR, WEEK, rewritten


def with_tail(edit: Callable[[Mesh], Mesh]) -> Files:
    return shot({11: edit, 12: edit})


def headed(mesh: Mesh) -> Mesh:
    return mesh.edit(head=("# older state", *mesh.head))


def test_an_older_end_that_differs(tmp_path: Path) -> None:
    assert heard(look(tmp_path / "equal", with_tail(headed))) == [("mixed-exports", "note", [11.0, 12.0])]
    said, inspection = broken(
        tmp_path,
        "leftover-frames",
        with_tail(headed),
        inspect=lambda folder: rewritten(folder, lambda n: 5 * n - WEEK * (n > 10)),
    )
    assert said == [("leftover-frames", "warning", [11.0, 12.0])]
    finding = finding_of(inspection, "leftover-frames")
    assert finding.numbers["sign"] == "a different header"
    assert finding.numbers["hours"] == pytest.approx(168, abs=0.1)
    assert [where.file.raw for where in finding.where] == [b"manta.0011.obj", b"manta.0012.obj"]


def test_an_older_beginning_that_differs(tmp_path: Path) -> None:
    inspection = rewritten(write(tmp_path, shot({1: headed, 2: headed})), lambda n: 5 * n - WEEK * (n < 3))
    assert heard(inspection) == [("leftover-frames", "warning", [1.0, 2.0])]


def test_an_older_end_whose_motion_does_not_join(tmp_path: Path) -> None:
    files = MATERIALS | frames({n: wing(n - 9 * (n > 8)) for n in range(1, 13)})
    said, inspection = broken(
        tmp_path,
        "leftover-frames",
        files,
        companions={"centre-jump": "the object jumps at the seam"},
        inspect=lambda folder: rewritten(folder, lambda n: 5 * n - WEEK * (n > 8)),
    )
    assert ("leftover-frames", "warning", [9.0, 10.0, 11.0, 12.0]) in said
    assert finding_of(inspection, "leftover-frames").numbers["sign"] == "a jump between older and newer frames"


TIMES: dict[str, Callable[[int], float]] = {
    "in order": lambda n: 5 * n,
    "last frame first": lambda n: -2 * HOUR * n,
    "out of order, on several machines": lambda n: 40 * (n * 7 % 12),
    "all at once": lambda _: 0,
    "half an hour of pause": lambda n: 5 * n - HOUR / 2 * (n > 10),
    "slow frames, the end first": lambda n: HOUR * (n % 10),
}


@pytest.mark.parametrize("name", TIMES)
def test_times_of_one_export_are_healthy(name: str, tmp_path: Path) -> None:
    said = heard(look(tmp_path, with_tail(headed)))
    assert heard(rewritten(tmp_path, TIMES[name])) == said
