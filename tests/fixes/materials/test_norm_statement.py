"""Tests of `norm-statement`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.images import image_file, spots
from tests.helpers.materials import NORMALS, library, with_library

HEIGHT = image_file(spots()[..., 0])


def test_the_statement_changes_and_nothing_else(tmp_path: Path) -> None:
    files = with_library(
        "map_Kd skin.png", "  map_Bump -bm 1.0 a.png # relief", "bump -bm 0.3 b.png", a=NORMALS, b=NORMALS
    )
    files |= {"manta.mtl": library("map_Kd skin.png", "  map_Bump -bm 1.0 a.png", "bump -bm 0.3 b.png")}
    result = fixed(tmp_path, files, "norm-statement")
    assert result.after["manta.mtl"] == library("map_Kd skin.png", "  norm a.png", "bump -bm 0.3 b.png")
    assert result.changed() == {"manta.mtl"}
    assert result.delivery.proof.clean


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_statement_in_the_first_line_is_a_statement(tmp_path: Path, mark: bytes) -> None:
    """A byte-order mark is not part of the text (Unicode 15, 23.8)."""
    files = with_library("map_Kd skin.png", "bump a.png", a=NORMALS)
    files["manta.mtl"] = mark + b"bump a.png\n" + files["manta.mtl"]
    after = fixed(tmp_path, files, "norm-statement").after["manta.mtl"]
    assert after == mark + b"norm a.png\n" + library("map_Kd skin.png", "norm a.png")


@pytest.mark.parametrize(
    "lines", [("bump a.png",), ("bump -bm 0.5 b.png",), ("bump b.png", "map_Kd b.png"), ("norm b.png",)]
)
def test_what_stays(lines: tuple[str, ...], tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no bump map holds normals"):
        plan_for(tmp_path, with_library(*lines, a=HEIGHT, b=NORMALS), "norm-statement")
