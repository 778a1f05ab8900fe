"""Tests of `drop-unused-materials`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import wing
from tests.helpers.sequences import MATERIALS, Files, frames, shot

PLAIN = MATERIALS["manta.mtl"]
EYE = b"newmtl eye\nKd 0.1 0.1 0.1\nmap_Kd eye.png\n"
MORE = shot() | {"eye.png": MATERIALS["skin.png"]}


@pytest.mark.parametrize("library", [PLAIN + EYE, EYE + PLAIN, EYE + PLAIN + EYE])
def test_it_goes_and_its_texture_with_it(tmp_path: Path, library: bytes) -> None:
    result = fixed(tmp_path, MORE | {"manta.mtl": library}, "drop-unused-materials")
    assert result.after["manta.mtl"] == PLAIN
    assert result.changed() == {"manta.mtl"}
    assert "eye.png" not in result.after
    assert result.after["skin.png"] == MATERIALS["skin.png"]
    assert result.delivery.after.inspections[0].findings == ()


def test_what_another_sequence_asks_for_stays(tmp_path: Path) -> None:
    kelp = {number: wing(number).edit(state=("usemtl eye",)) for number in (1, 2, 3)}
    files = MORE | {"manta.mtl": PLAIN + EYE + b"newmtl fin\n"} | frames(kelp, "kelp.")
    result = fixed(tmp_path, files, "drop-unused-materials")
    assert result.after["manta.mtl"] == PLAIN + EYE


def test_comments_above_the_first_material_stay(tmp_path: Path) -> None:
    result = fixed(tmp_path, MORE | {"manta.mtl": b"# of the harbour\n" + EYE + PLAIN}, "drop-unused-materials")
    assert result.after["manta.mtl"] == b"# of the harbour\n" + PLAIN


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "every material is in use"),
        (shot() | {"manta.mtl": EYE}, "faces use materials that no library defines"),
        ({name: data for name, data in shot().items() if name != "manta.mtl"}, "no library defines"),
    ],
)
def test_refusals(tmp_path: Path, files: Files, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "drop-unused-materials")
