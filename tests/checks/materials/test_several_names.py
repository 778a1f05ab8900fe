"""Tests of messages about two materials or two textures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.images import image_file, normals, spots
from tests.helpers.sequences import Files, finding_of, look, shot

SPOTS, NORMALS = image_file(spots()), image_file(normals())
DEEP = image_file(np.arange(64 * 20, dtype=np.uint16).reshape(20, 64) * 30)
GREY = image_file(np.full((20, 64, 3), 128, np.uint8))
SQUARE = image_file(spots(20, 20))


def with_material(name: str) -> object:
    return lambda mesh: mesh.edit(state=(f"usemtl {name}",))


def two(line: str, *more: str) -> str:
    """Return a library of two materials, `a` and `b`, with the same lines. In the lines, `#` stands for the name of the
    material."""
    return "".join(
        f"newmtl {name}\n" + "".join(f"{one}\n" for one in (line, *more)).replace("#", name) for name in "ab"
    )


def images(data: bytes, ending: str = "png") -> Files:
    return {f"{name}.{ending}": data for name in "ab"}


CASES: dict[str, tuple[str, str, Files, str]] = {
    "black colour": (
        "black-colour",
        two("Kd 0 0 0", "map_Kd #.png"),
        images(SPOTS),
        "materials `a` and `b` multiply their colour maps by black (Kd 0 0 0)",
    ),
    "colour map slot": (
        "colour-map-slot",
        two("map_Ka #.png"),
        images(SPOTS),
        "materials `a` and `b` have an ambient map but no colour map",
    ),
    "colour map unnamed": (
        "colour-map-unnamed",
        two("Kd 1 1 1"),
        images(SPOTS),
        "materials `a` and `b` have no colour map, but `a.png` and `b.png` beside `manta.mtl` could belong to them",
    ),
    "defined twice": (
        "duplicate-materials",
        two("Kd 1 1 1") * 2,
        {},
        "materials `a` and `b` are defined more than once, with the same content",
    ),
    "opacity": (
        "opacity-unclear",
        two("d 0.5", "Tr 0.1"),
        {},
        "materials `a` and `b` have opacities (`d`) and transparencies (`Tr`) that disagree",
    ),
    "only Tr": (
        "opacity-unclear",
        two("Tr 1"),
        {},
        "materials `a` and `b` have only `Tr 1`, which makes the surface invisible in some readers and opaque",
    ),
    "statements": (
        "map-statements",
        two("map_kelp #.png", "map_weed #.png"),
        images(SPOTS),
        "the format does not define the map statements `map_kelp` (unknown meaning) and `map_weed` (unknown meaning)",
    ),
    "options": (
        "map-options",
        two("map_Kd -s 2 2 2 -o 1 0 0 #.png"),
        images(SPOTS),
        "readers treat map options `-s` and `-o` in different ways",
    ),
    "unused": ("unused-materials", two("d 1") + "newmtl c\nnewmtl d\n", {}, "no face uses materials `c` and `d`"),
    "not portable": (
        "paths-not-portable",
        two("map_Kd # #.png"),
        {"a a.png": SPOTS, "b b.png": SPOTS},
        "files `a a.png` and `b b.png` have spaces in their names; some readers cut off such a name at the first space",
    ),
    "statement case": (
        "statement-case",
        two("map_kd #.png", "KD 1 1 1"),
        images(SPOTS),
        "statements `map_kd` and `KD` are in the wrong case (the format uses `map_Kd` and `Kd`)",
    ),
    "used twice": (
        "texture-used-twice",
        two("map_Kd #.png", "norm #.png"),
        images(NORMALS),
        "textures `a.png` and `b.png` are assigned both as colour maps and as normal or height maps",
    ),
    "missing": (
        "texture-missing",
        two("map_Kd #.png"),
        {},
        "textures `a.png` and `b.png` were not found in the inspected folder",
    ),
    "near": (
        "texture-missing",
        two("map_Kd #.PNG"),
        images(SPOTS),
        "textures `a.PNG` and `b.PNG` were not found as written, but were found, the first at `a.png` (",
    ),
    "outside": (
        "texture-missing",
        two("map_Kd ../#.png"),
        {},
        "textures `../a.png` and `../b.png` were not opened: ",
    ),
    "damaged": (
        "texture-damaged",
        two("map_Kd #.png"),
        images(b"no image"),
        "textures `a.png` and `b.png` can't be decoded; reason for the first: its content is not an image",
    ),
    "no normals": (
        "normal-map",
        two("norm #.png"),
        images(SPOTS),
        "textures `a.png` and `b.png` are assigned as normal maps, but their colours don't encode normals",
    ),
    "normals as height": (
        "normal-map",
        two("bump #.png"),
        images(NORMALS),
        "textures `a.png` and `b.png` look like normal maps, but are assigned as height maps",
    ),
    "another format": (
        "texture-format",
        two("map_Kd #.jpg"),
        images(SPOTS, "jpg"),
        "textures `a.jpg` and `b.jpg` are in PNG format, but have the extensions of different formats",
    ),
    "two depths": (
        "texture-format",
        two("disp #.png"),
        {"a.png": image_file(spots()[..., 0]), "b.png": image_file(spots()[..., 0] > 99)},
        "textures `a.png` and `b.png` have 1 or 8 bits per channel, so steps may be visible in the displacement",
    ),
    "deep": (
        "texture-format",
        two("map_Kd #.png"),
        images(DEEP),
        "textures `a.png` and `b.png` have 16 bits per channel, which some readers reduce to 8",
    ),
    "one colour": (
        "texture-format",
        two("map_Kd #.png"),
        images(GREY),
        "textures `a.png` and `b.png` each have only one colour",
    ),
    "squeezed": (
        "map-aspect",
        two("map_Kd a.png", "map_Ke b.png"),
        images(SQUARE),
        "textures `a.png` and `b.png` are squeezed on the surface, the first in height by a factor of ",
    ),
    "one damaged": (
        "texture-damaged",
        two("map_Kd a.png"),
        {"a.png": b"no image"},
        "texture `a.png` can't be decoded: its content is not an image",
    ),
}


@pytest.mark.parametrize(("check", "library", "files", "message"), CASES.values(), ids=CASES)
def test_a_message_about_two(check: str, library: str, files: Files, message: str, tmp_path: Path) -> None:
    edits = {number: with_material("ba"[number % 2]) for number in range(1, 13)}
    meshes = {name: data for name, data in shot(edits).items() if not name.endswith(("png", "mtl"))}
    inspection = look(tmp_path, meshes | {"manta.mtl": library.encode()} | files)
    messages = [finding.message for finding in inspection.findings if finding.check == check]
    assert [one for one in messages if one.startswith(message)], messages


def test_materials_that_no_library_defines(tmp_path: Path) -> None:
    edits = {number: with_material(f"fin.{number % 2}") for number in range(1, 13)}
    finding = finding_of(look(tmp_path, shot(edits)), "material-undefined")
    assert finding.message == "materials `fin.1` and `fin.0` are used, but no library defines them"
