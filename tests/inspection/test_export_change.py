"""Tests of the comparison of an export with the previous export."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from inspector.inspection.export_change import MOVED, SequenceChange, export_changes
from inspector.report.document import json_text
from inspector.report.export_change import export_document, export_text
from inspector.report.text_style import TextStyle
from tests.helpers.broken.uvs import bare, slid_along
from tests.helpers.images import image_file, spots
from tests.helpers.meshes import Mesh, torus, wing
from tests.helpers.sequences import MATERIALS, Files, frames, look_at_all, shot

PLAIN = TextStyle(80)
WIDE = TextStyle(200)


def changes(folder: Path, before: Files, after: Files) -> tuple[SequenceChange, ...]:
    return export_changes(look_at_all(folder / "before", before), look_at_all(folder / "after", after))


def change(folder: Path, before: Files, after: Files) -> SequenceChange:
    (one,) = changes(folder, before, after)
    return one


def raised(mesh: Mesh) -> Mesh:
    positions = mesh.positions.copy()
    positions[0] += [0, 0.25, 0]
    return mesh.edit(positions=positions)


def test_the_same_export_changed_nothing(tmp_path: Path) -> None:
    one = change(tmp_path, shot(), shot())
    assert (one.alike, one.changed, one.materials, one.new, one.gone) == (12, (), (), (), ())
    assert not one.worse


def test_frames_that_were_added_are_missing_and_moved(tmp_path: Path) -> None:
    one = change(tmp_path, shot(numbers=range(1, 13)), shot({5: raised}, numbers=range(3, 15)))
    assert (one.added, one.missing) == ((13, 14), (1, 2))
    (moved,) = one.changed
    assert moved.number == 5
    (block,) = moved.blocks
    assert (block.block, block.differing, block.element) == ("vertices (v)", 1, 0)
    assert block.most == pytest.approx(0.25, abs=1e-6)
    assert one.alike == 9
    assert one.worse


@pytest.mark.parametrize(
    ("edit", "blocks"),
    [
        (lambda mesh: mesh.edit(faces=mesh.faces[1:]), {"face vertices", "face UVs", "face normals", "materials"}),
        (slid_along, {"UVs (vt)"}),
        (lambda mesh: mesh.edit(state=("usemtl fin",)), {"materials"}),
    ],
    ids=["topology", "UVs", "materials"],
)
def test_what_changed_in_a_frame(tmp_path: Path, edit: Callable[[Mesh], Mesh], blocks: set[str]) -> None:
    (frame,) = change(tmp_path, shot(), shot({5: edit})).changed
    assert {block.block for block in frame.blocks} == blocks


@pytest.mark.parametrize(
    ("after", "words"),
    [
        ({"manta.mtl": b"newmtl skin\nKd 1 1 0\nmap_Kd skin.png\n"}, "material `skin` has a different definition"),
        (
            {"skin.png": image_file(spots() // 2)},
            "map_Kd of material `skin`: the texture `skin.png` has different content",
        ),
        (
            {"manta.mtl": MATERIALS["manta.mtl"].replace(b"skin.png", b"fin.png"), "fin.png": MATERIALS["skin.png"]},
            "map_Kd of material `skin` refers to `fin.png` instead of `skin.png`",
        ),
    ],
    ids=["description", "texture", "map"],
)
def test_materials_and_textures_that_changed(tmp_path: Path, after: Files, words: str) -> None:
    one = change(tmp_path, shot(), shot() | after)
    assert words in one.materials
    assert one.alike == 12


def test_a_map_and_a_material_that_are_missing_are_worse(tmp_path: Path) -> None:
    flat = {"manta.mtl": b"newmtl skin\nKd 1 1 1\n"}
    one = change(tmp_path / "map", shot(), shot() | flat)
    assert one.regressions == ("map_Kd of material `skin` is missing",)
    assert one.worse
    assert not change(tmp_path / "added", shot() | flat, shot()).worse
    renamed = {name: data.replace(b"usemtl skin", b"usemtl fin") for name, data in shot().items()}
    renamed["manta.mtl"] = b"newmtl fin\nKd 1 1 1\nmap_Kd skin.png\n"
    one = change(tmp_path / "material", shot(), renamed)
    assert one.regressions == ("material `skin` is missing",)
    assert one.materials == ("material `fin` was added",)


def test_a_material_that_lost_its_definition_is_missing(tmp_path: Path) -> None:
    undefined = shot() | {"manta.mtl": b"newmtl fin\n"}
    assert "material `skin` is missing" in change(tmp_path / "lost", shot(), undefined).regressions
    assert "material `skin` was added" in change(tmp_path / "won", undefined, shot()).materials
    assert change(tmp_path / "same", undefined, undefined).materials == ()


def test_normals_and_colours_that_are_missing_are_worse(tmp_path: Path) -> None:
    ring = torus(12, 8)
    lit = MATERIALS | frames(dict.fromkeys(range(1, 5), ring))
    unlit = {name: b"".join(line for line in data.splitlines(True) if line[:3] != b"vn ") for name, data in lit.items()}
    unlit = {name: re.sub(rb"(\d+/\d+)/\d+", rb"\1", data) for name, data in unlit.items()}
    unlit["skin.png"] = lit["skin.png"]
    one = change(tmp_path / "lost", lit, unlit)
    assert one.regressions == ("normals are missing on frames 1-4; the previous export has them",)
    assert one.worse
    assert not change(tmp_path / "won", unlit, lit).regressions
    coloured = {name: re.sub(rb"(?m)^(v .*)$", rb"\1 0.5 0.5 0.5", data) for name, data in lit.items()}
    coloured["skin.png"] = lit["skin.png"]
    one = change(tmp_path / "colours", coloured, lit)
    assert one.regressions == ("vertex colours are missing on frames 1-4; the previous export has them",)


@pytest.mark.parametrize(("factor", "worse"), [(100.0, True), (0.01, True), (99.0, True), (96.0, False), (1.2, False)])
def test_an_object_in_another_unit_is_worse(tmp_path: Path, factor: float, worse: bool) -> None:
    after = shot({number: lambda mesh: mesh.edit(positions=mesh.positions * factor) for number in range(1, 13)})
    one = change(tmp_path, shot(), after)
    unit = 100.0 if factor > 1 else 0.01
    words = f"the object is {unit:g} times as large as before, which is the factor between metres and centimetres"
    assert one.regressions == ((words,) if worse else ())
    assert one.worse is worse


def test_motion_that_ends_early_is_worse(tmp_path: Path) -> None:
    held = shot({number: lambda _: wing(9) for number in (10, 11, 12)})
    one = change(tmp_path / "1", shot(), held)
    words = (
        "the object doesn't move on frames 10-12, at the end of the sequence; in the previous export, it moves there"
    )
    assert one.regressions == (words,)
    assert "  worse: the object doesn't move on frames 10-12" in export_text((one,), WIDE)
    assert export_text((one,), WIDE).endswith("; 1 other change for the worse)\n")
    assert json.loads(json_text(export_document((one,))))["sequences"][0]["regressions"] == [words]
    assert change(tmp_path / "2", held, held).regressions == ()
    assert change(tmp_path / "3", held, shot()).regressions == ()


@pytest.mark.parametrize("beside", [0.9, 1.1])
def test_motion_below_a_pixel_does_not_count(tmp_path: Path, beside: float) -> None:
    still = wing(1).positions
    size = float(np.ptp(still, axis=0).max())

    def slow(number: int) -> Mesh:
        return wing(1).edit(positions=still + np.array([0.0, number * MOVED.value * beside * size, 0.0]))

    before = MATERIALS | frames({number: slow(number) for number in range(1, 13)})
    after = MATERIALS | frames({number: slow(min(number, 9)) for number in range(1, 13)})
    assert bool(change(tmp_path, before, after).regressions) is (beside > 1)


def test_findings_that_are_new_gone_and_still_there(tmp_path: Path) -> None:
    one = change(tmp_path, shot({3: bare, 7: raised}), shot({3: bare, 5: bare, 9: slid_along}))
    assert "no-uvs" in {finding.check for finding in one.new}  # because it is also on another frame
    assert "uv-values" in {finding.check for finding in one.new}
    assert "no-uvs" not in {finding.check for finding in one.gone}
    assert one.worse
    better = change(tmp_path / "better", shot({3: bare, 5: bare}), shot({3: bare}))
    assert [finding.check for finding in better.still if finding.severity.word == "error"] == ["no-uvs"]
    assert not better.worse


def test_frames_that_were_added_with_what_all_have_are_no_new_finding(tmp_path: Path) -> None:
    every = dict.fromkeys(range(1, 15), bare)
    fewer = dict.fromkeys(range(1, 13), bare)
    one = change(tmp_path, shot(fewer), shot(every, numbers=range(1, 15)))
    assert [finding.check for finding in one.new if finding.severity.word != "note"] == []


def test_the_names_of_single_sequences_do_not_matter(tmp_path: Path) -> None:
    after = MATERIALS | frames({number: wing(number) for number in range(1, 13)}, stem="manta_v2.")
    assert change(tmp_path, shot(), after).alike == 12


def test_of_several_sequences_each_is_compared_with_its_own(tmp_path: Path) -> None:
    both = shot() | frames({number: wing(number) for number in range(1, 9)}, stem="jelly.")
    added, missing = changes(tmp_path / "1", shot(), both), changes(tmp_path / "2", both, shot())
    assert {one.key: (one.before is None, one.worse) for one in added}["jelly.####.obj"][0]
    assert {one.key: (one.after is None, one.worse) for one in missing}["jelly.####.obj"] == (True, True)


def test_a_frame_that_can_not_be_read_is_named(tmp_path: Path) -> None:
    one = change(tmp_path, shot(), shot() | {"manta.0004.obj": b""})
    assert [(frame.number, bool(frame.unreadable)) for frame in one.changed] == [(4, True)]


def test_as_text_and_as_json(tmp_path: Path) -> None:
    found = changes(tmp_path, shot(), shot({5: raised, 6: raised, 7: bare}))
    text = export_text(found, PLAIN)
    assert "  changed: frames 5, 6: vertices (v)\n    vertices (v): 1 of 20 differs, mean 0.0125, largest 0.25" in text
    assert "  new: error no-uvs, frame 7" in text
    assert text.rstrip().splitlines()[-1].startswith("verdict: worse than the previous export (")
    document = json.loads(json_text(export_document(found)))
    assert document["worse"] is True
    (sequence,) = document["sequences"]
    assert [frame["frame"] for frame in sequence["changed"]] == [5, 6, 7]
    assert np.isclose(sequence["changed"][0]["blocks"][0]["largest"], 0.25)


def test_the_verdict_names_the_frames_that_are_missing(tmp_path: Path) -> None:
    fewer = changes(tmp_path / "1", shot(), shot(numbers=range(1, 10)))
    assert export_text(fewer, WIDE).endswith("(0 new errors and warnings, 0 gone; frames 10-12 missing)\n")
    jelly = frames({number: wing(number) for number in range(1, 9)}, stem="jelly.")
    fewer_jelly = frames({number: wing(number) for number in range(1, 7)}, stem="jelly.")
    both = changes(tmp_path / "2", shot() | jelly, shot(numbers=range(1, 10)) | fewer_jelly)
    assert export_text(both, WIDE).endswith("; 5 frames of 2 sequences missing)\n")
    assert export_text(changes(tmp_path / "3", shot() | jelly, shot()), WIDE).endswith("; 1 sequence missing)\n")
    assert max(map(len, export_text(both, PLAIN).splitlines())) <= 80
    same = export_text(changes(tmp_path / "4", shot(), shot()), WIDE)
    assert same.endswith("verdict: no worse than the previous export (0 new errors and warnings, 0 gone)\n")


def test_another_library_name_is_stated_once_over_all_frames(tmp_path: Path) -> None:
    after = {
        name.replace("manta.mtl", "manta_v2.mtl"): data.replace(b"mtllib manta.mtl", b"mtllib manta_v2.mtl")
        for name, data in shot({5: raised, 9: raised}).items()
    }
    text = export_text(changes(tmp_path, shot(), after), PLAIN)
    assert "  changed: frames 1-12: libraries: `manta_v2.mtl` instead of `manta.mtl`\n" in text
    assert "  changed: frames 5, 9: vertices (v)\n" in text
    assert text.count("libraries") == 1
