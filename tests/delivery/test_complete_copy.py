"""Tests of the files that a corrected folder contains because a library names them.

The library contains statements from MTL File Formats 4.2, 1995, and statements that later writers added (common
practice, no source).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from inspector.delivery.choices import lossless_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.formats.wavefront.library import read_library
from tests.helpers.fixing import files_of
from tests.helpers.images import image_file, spots
from tests.helpers.sequences import heard, look_at_all, shot

IMAGE = image_file(spots())
STATEMENTS = (
    *(
        "map_Ka",
        "map_Kd",
        "map_Ks",
        "map_Ns",
        "map_d",
        "decal",
        "disp",
        "bump",
        "map_Bump",
        "norm",
        "refl -type sphere",
    ),
    *("map_Pr", "map_Pm", "map_Ps", "map_Ke", "map_Pc", "map_Pcr", "map_aniso", "map_ORM", "map_RMA", "map_opacity"),
    *("map_norm", "map_normal", "map_refl", "map_disp", "map_Tr", "map_kelp"),
)

EVERYTHING = "\n".join(
    [
        "newmtl skin",
        *(f"{statement} maps/{number:02}.png" for number, statement in enumerate(STATEMENTS)),
        "map_Kd -colorspace sRGB maps/space.png",
        "map_Ks -s 1 1 1 maps/tiles.<UDIM>.png",
        "map_Ke maps/first.1001.png",
        "bump -bm \\",
        "  0.5 maps/continued.png",
        "bump maps/behind.png -bm 0.5",
        "map_Kd maps/said.png # the scan",
        "map_Kd other/elsewhere.png",
        "",
    ]
).encode()
PLACED = {
    *(f"maps/{number:02}.png" for number in range(len(STATEMENTS))),
    *(f"maps/{name}.png" for name in ("space", "continued", "behind", "said", "elsewhere")),
    *(f"maps/tiles.{tile}.png" for tile in (1001, 1002, 1011)),
    *(f"maps/first.{tile}.png" for tile in (1001, 1002)),
}


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("complete")
    files = shot() | {"manta.mtl": EVERYTHING} | dict.fromkeys(PLACED, IMAGE)
    inspection = look_at_all(folder / "in", files)
    deliver(make_plan(inspection, lossless_choices(inspection)), folder / "out")
    return folder / "out"


def test_every_file_that_the_library_names_is_in_the_copy(out: Path) -> None:
    there = files_of(out)
    names = [line.name.text for line in read_library(there["manta.mtl"]).maps]
    assert len(names) == len(STATEMENTS) + 7
    for name in names:
        files = [one for one in there if re.fullmatch(re.escape(name).replace("<UDIM>", r"1\d\d\d"), one)]
        assert files, name
        assert all(there[one] == IMAGE for one in files)
    assert sorted(one for one in there if "tiles" in one) == [f"maps/tiles.{tile}.png" for tile in (1001, 1002, 1011)]
    assert {"maps/first.1001.png", "maps/first.1002.png"} <= there.keys()


def test_nothing_is_left_to_find(out: Path) -> None:
    copy = look_at_all(out, {})
    assert "texture-missing" not in {check for one in copy.inspections for check, _, _ in heard(one)}


def test_options_behind_a_name_and_comments_stay(out: Path) -> None:
    text = (out / "manta.mtl").read_bytes()
    assert b"\nbump -bm 0.5 textures/behind.png\n" in text
    assert b"\n# the scan\nmap_Kd textures/said.png\n" in text
    assert b"\nbump -bm \\\n  0.5 maps/continued.png\n" in text
