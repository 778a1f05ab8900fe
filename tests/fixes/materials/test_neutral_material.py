"""Tests of `neutral-material`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.delivery.choices import Choice, all_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.errors import Refusal
from inspector.formats.wavefront.library import read_library
from inspector.formats.wavefront.reader import read_frame
from inspector.names import Name
from tests.helpers.broken.materials import without_material
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.materials import library
from tests.helpers.one_thing import FACE
from tests.helpers.sequences import MATERIALS, Files, look_at_all, shot

PLAIN = MATERIALS["manta.mtl"]
# MTL File Formats 4.2, 1995: `Kd` is the diffuse reflectivity; `illum 1` means only colour and ambient light.
GREY = b"\nKa 0 0 0\nKd 0.5 0.5 0.5\nKs 0 0 0\nillum 1\n"
ALL = dict.fromkeys(range(1, 13), without_material)


def test_faces_without_a_material_get_that_of_the_reference(tmp_path: Path) -> None:
    name = "manta.0005.obj"
    files = shot({5: without_material})
    result = fixed(tmp_path, files, "neutral-material")
    assert result.changed() == {name}
    assert result.after[name] == files[name].replace(b"\nf ", b"\nusemtl skin\nf ", 1)
    assert (
        result.step.summary == "assign the reference frame's material `skin` to the faces without a material on frame 5"
    )
    assert result.touched(name) == {b"usemtl"}
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["faces-without-material"]
    assert result.delivery.proof.clean


def test_after_a_fix_that_joins_blocks_the_material_is_before_the_first_face(tmp_path: Path) -> None:
    """`uv-mirror` joins the file's blocks of UVs into one block. This changes the index of the block of faces."""
    files = {}
    for number in (1, 2, 3):
        corners = [(0, 0), (1, 0), (1, 1), (0, 1)]
        lines = [line for u, v in corners for line in (f"v {u} {v} {0.1 * number:.1f}", f"vt {u} {v}")]
        files[f"kelp.{number:04d}.obj"] = ("\n".join([*lines, "f 1/1 2/2 3/3 4/4"]) + "\n").encode()
    choices = [Choice("uv-mirror", {"axis": "u"}), Choice("neutral-material")]
    deliver(make_plan(look_at_all(tmp_path / "in", files), choices), tmp_path / "out")
    lines = (tmp_path / "out" / "kelp.0002.obj").read_text().splitlines()
    assert lines[-2:] == ["usemtl neutral", "f 1/1 2/2 3/3 4/4"]


def test_where_no_frame_has_a_material_faces_get_a_grey_one(tmp_path: Path) -> None:
    files = shot(ALL)
    result = fixed(tmp_path, files, "neutral-material")
    assert result.after["manta.mtl"] == PLAIN + b"newmtl neutral" + GREY
    name = "manta.0005.obj"
    assert result.after[name] == files[name].replace(b"\nf ", b"\nusemtl neutral\nf ", 1)


def test_faces_before_the_first_material_alone_get_it(tmp_path: Path) -> None:
    name = "manta.0005.obj"
    files = shot()
    files[name] = files[name].replace(b"usemtl skin\n" + FACE, FACE + b"\nusemtl skin")
    after = fixed(tmp_path, files, "neutral-material").after
    assert [run.material for run in read_frame(after[name]).runs] == [Name(b"skin"), Name(b"skin")]


def test_materials_that_no_library_describes_are_described(tmp_path: Path) -> None:
    files = shot() | {"manta.mtl": library().replace(b"skin", b"fin")}
    result = fixed(tmp_path, files, "neutral-material")
    assert result.after["manta.mtl"] == b"newmtl fin\nnewmtl skin" + GREY
    assert result.changed() == {"manta.mtl"}
    assert "material-undefined" in {finding.check for _, finding in result.delivery.proof.gone}
    assert result.delivery.proof.clean


def test_without_any_library_there_is_one_then(tmp_path: Path) -> None:
    files = {name: data for name, data in shot().items() if name != "manta.mtl"}
    result = fixed(tmp_path, files, "neutral-material")
    assert result.after["neutral.mtl"] == b"newmtl skin" + GREY
    for name in result.changed():
        assert result.after[name] == files[name].replace(b"mtllib manta.mtl", b"mtllib neutral.mtl")
        assert result.touched(name) == {b"mtllib"}
    assert len(result.changed()) == 12
    assert "add a reference to neutral.mtl in" in result.step.summary
    assert result.delivery.proof.clean


def test_its_names_are_free_ones(tmp_path: Path) -> None:
    taken = PLAIN + b"newmtl neutral\nKd 1 0 0\n"
    result = fixed(tmp_path, shot(ALL) | {"manta.mtl": taken}, "neutral-material")
    assert [str(name) for name in read_library(result.after["manta.mtl"]).materials] == ["skin", "neutral", "neutral2"]
    files = {name: data for name, data in shot(ALL).items() if name != "manta.mtl"} | {"neutral.mtl": b"# mine\n"}
    second = fixed(tmp_path / "second", files, "neutral-material")
    assert b"mtllib neutral2.mtl\n" in second.after["manta.0001.obj"]
    assert "neutral2.mtl" in second.after


def test_a_library_found_elsewhere_comes_first(tmp_path: Path) -> None:
    files = shot(ALL) | {"maps/manta.mtl": PLAIN}
    del files["manta.mtl"]
    with pytest.raises(Refusal, match="under a different path or name; apply `share-library` first"):
        plan_for(tmp_path, files, "neutral-material")


@pytest.mark.parametrize("head", ["", "mtllib gone.mtl"], ids=["no library is named", "the named library is missing"])
def test_a_library_that_no_frame_names_comes_first(tmp_path: Path, head: str) -> None:
    files = {name: data.replace(b"mtllib manta.mtl", head.encode()) for name, data in shot().items()}
    with pytest.raises(
        Refusal, match=r"manta\.mtl defines the materials that the faces use; apply `share-library` first"
    ):
        plan_for(tmp_path / "asked", files, "neutral-material")
    plan = make_plan(before := look_at_all(tmp_path / "all", files), all_choices(before))
    assert [step.fix for step in plan.steps] == ["share-library"]


def test_a_material_is_not_estimated_while_the_library_is_uncertain(tmp_path: Path) -> None:
    files = {name: data.replace(b"mtllib manta.mtl\n", b"") for name, data in shot().items()} | {"wet.mtl": PLAIN}
    plan = make_plan(before := look_at_all(tmp_path, files), all_choices(before))
    assert plan.steps == ()
    assert {one.fix for one in plan.sequences[0].refused} == {"share-library", "neutral-material"}


@pytest.mark.parametrize("files", [shot()])
def test_refusals(tmp_path: Path, files: Files) -> None:
    with pytest.raises(Refusal, match="every face has a material that a library defines"):
        plan_for(tmp_path, files, "neutral-material")
