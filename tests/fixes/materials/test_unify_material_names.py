"""Tests of `unify-material-names`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.broken.materials import COUNTED, PLAIN, alike, counted_materials, uses
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import Files, shot

GOOD = shot()


def test_frames_and_the_library_come_out_as_on_the_reference(tmp_path: Path) -> None:
    result = fixed(tmp_path, COUNTED, "unify-material-names")
    assert {name: result.after[name] for name in GOOD} == GOOD
    assert result.touched("manta.0004.obj") == {b"usemtl"}
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["material-numbering"]
    assert result.delivery.proof.clean


def test_a_library_of_its_own_gets_the_name_of_the_reference(tmp_path: Path) -> None:
    lone = PLAIN.replace(b"newmtl skin", b"newmtl  skin.004 ")
    own = {4: lambda mesh: uses("skin.004")(mesh).edit(head=("mtllib four.mtl", "o manta"))}
    result = fixed(tmp_path, shot(own) | {"four.mtl": lone}, "unify-material-names")
    assert result.after["four.mtl"] == PLAIN.replace(b"newmtl skin", b"newmtl  skin ")
    assert result.after["manta.mtl"] == PLAIN
    assert result.delivery.proof.clean


def test_indented_lines_and_other_materials_stay(tmp_path: Path) -> None:
    name = "manta.0004.obj"
    text = COUNTED[name].replace(b"usemtl skin.004", b"usemtl fin\nf 1 2 7\n  usemtl \t skin.004 ")
    base = {number: uses("fin", "skin") for number in range(1, 13)}
    files = shot(base) | {name: text, "manta.mtl": alike(4) + b"newmtl fin\n"}
    after = fixed(tmp_path, files, "unify-material-names").after
    assert after[name] == text.replace(b"usemtl \t skin.004 ", b"usemtl skin")


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (GOOD, "there is no material whose name is the same as a name in the reference frame except for the number"),
        (COUNTED | {"manta.mtl": counted_materials(range(3, 6))}, r"skin\.003 and skin are defined in different ways"),
        (shot({4: uses("skin.001", "skin.002")}), r"frame 4: skin\.001 may match more than one material"),
        (
            shot({4: uses("skin.004"), 5: uses("skin", "skin.004")}) | {"manta.mtl": alike(4)},
            r"skin\.004 can't be renamed, because it is a different material in manta\.0005\.obj",
        ),
        ({"manta.0001.obj": b"", "manta.0002.obj": b""}, "no frame can be read"),
    ],
)
def test_refusals(tmp_path: Path, files: Files, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "unify-material-names")
