"""Tests that deliveries in each format keep all data or report what is lost.

Each format declares the data that it keeps (`Format.carries`). The manual shows these declarations in a table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form, forms
from inspector.errors import Refusal
from inspector.formats.animation import Take
from inspector.formats.format import Trait
from inspector.formats.frame import ABSENT, Frame
from inspector.formats.mesh import Mesh, Part, Slot
from inspector.formats.problems import UnreadableFrame
from inspector.formats.registry import format_by_id
from inspector.formats.wavefront.decompose import materials_of, mesh_of
from inspector.formats.wavefront.library import read_library
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.animations import open_animation
from inspector.sequence.run.scan import load_frame
from tests.helpers.images import image_file, spots

PATCH = b"""mtllib kelp.mtl
v 0 0 0 0.2 0 1
v 1 0 0 0.4 0 1
v 1 1 0 0.6 0 1
v 0 1 0 0.8 0 1
v 2 0 0 1 0 1
v 2 1 0 0 0 1
vt 0 0
vt 0.5 0
vt 0.5 1
vt 0 1
vt 1 0
vt 1 1
vn 0 0 1
vn 0 1 0
vn 1 0 0
vn 0 0 -1
vn 0 -1 0
vn -1 0 0
usemtl blade
f 1/1/1 2/2/2 3/3/3 4/4/4
usemtl stem
f 2/2/2 5/5/5 6/6/6 3/3/3
"""
PLAIN = b"".join(line + b"\n" for line in PATCH.splitlines() if not line.startswith((b"mtllib", b"usemtl")))
ONE_FACE = PLAIN[: PLAIN.rindex(b"f ")]
POINTS = b"".join(line + b"\n" for line in PLAIN.splitlines() if line.startswith(b"v "))
VN = b"vn 0 0 1\nvn 0 1 0\n"
NORMALS = POINTS + VN + b"f 1//1 2//1 3//1 4//1\nf 2//2 5//2 6//2 3//2\n"  # one edge has two normals
HALF_NORMALS = POINTS + VN + b"f 1//1 2//1 3//1 4//1\nf 2 5 6 3\n"
PARTS = POINTS + b"v 9 9 9\no left\ng near\ns 1\nf 1 2 3 4\no right\ng far\ns 2\nf 2 5 6 3\nl 1 5\n"
NAMES = POINTS + b"usemtl blade\nf 1 2 3 4\nusemtl stem\nf 2 5 6 3\n"
VOLUMES = PLAIN.replace(b"vt 1 1", b"vt 1 1 0.5")
LIBRARY = b"""newmtl blade
Kd 1 1 1
map_Kd skin.png
map_Pr -imfchan g skin.png
map_Pm -imfchan b skin.png
map_Ke skin.png
norm skin.png
newmtl stem
d 0.25
map_d -imfchan g skin.png
"""
FORMATS = ("obj", "ply", "stl", "off", "glb", "usd", "abc")
Frames = Mapping[int, bytes]
SOURCES: Mapping[str, Frames] = {
    "all": {1: PATCH, 2: PATCH.replace(b"v 2 1 0", b"v 2 1 1"), 3: PATCH},
    "partial": {n: PLAIN.replace(b"f 2/2/2 5/5/5 6/6/6 3/3/3", b"f 2//2 5//5 6//6 3//3") for n in (1, 2)},
    "topology": {1: PLAIN, 2: ONE_FACE, 3: PLAIN},
    "gap": {1: PLAIN, 2: PLAIN, 5: PLAIN, 6: PLAIN},
    "empty": {1: b"# nothing emitted yet\n", 2: PLAIN, 3: PLAIN},
    "normals": {1: NORMALS, 2: NORMALS},
    "half normals": {1: HALF_NORMALS, 2: HALF_NORMALS},
    "parts": {1: PARTS, 2: PARTS},
    "cloud": {1: POINTS, 2: POINTS},
    "names": {1: NAMES, 2: NAMES},
    "volumes": {1: VOLUMES, 2: VOLUMES},
}


@dataclass(frozen=True)
class Came:
    frames: Mapping[int, Mesh | None]
    text: bytes
    named: tuple[str, ...]
    refused: str = ""


def delivered(tmp_path: Path, form: str, name: str) -> Came:
    source, out = tmp_path / name, tmp_path / "out"
    source.mkdir()
    for number, text in SOURCES[name].items():
        (source / f"kelp.{number:04d}.obj").write_bytes(text)
    if name == "all":
        (source / "kelp.mtl").write_bytes(LIBRARY)
        (source / "skin.png").write_bytes(image_file(spots()))
    plan = make_plan(inspect_folder(source), ())
    try:
        delivery = deliver(plan, out, form=None if form == "obj" else Form(form))
    except Refusal as refusal:
        return Came({}, b"", (), str(refusal))
    lost: Any = delivery.receipt["left_out"]
    numbers = range(min(SOURCES[name]), max(SOURCES[name]) + 1)
    text = b"".join(path.read_bytes() for path in out.glob("*.obj"))
    return Came({number: again(out, form, number) for number in numbers}, text, tuple(one["what"] for one in lost))


def again(out: Path, form: str, number: int) -> Mesh | None:
    scene = format_by_id(form).scene
    if scene is None:
        found = next(iter(out.glob(f"kelp.{number:04d}.*")), None)
        return None if found is None else whole(load_frame(found), out)
    try:
        return open_animation(out / f"kelp{scene.ending}").mesh(Fraction(number), Take(blend=True))
    except UnreadableFrame:
        return None


def whole(frame: Frame, out: Path) -> Mesh:
    text = frame.library or b"".join(path.read_bytes() for path in out.glob("*.mtl"))
    library = read_library(text)
    image: Any = object()
    return mesh_of(frame, tuple(one for one, _ in materials_of(library, {line.start: image for line in library.maps})))


def corners(mesh: Mesh, values: np.ndarray, slot: np.ndarray) -> set[tuple[float, ...]]:
    has = slot != ABSENT
    rows = np.column_stack([mesh.positions[mesh.corners.v[has]], values[slot[has]]])
    return set(map(tuple, np.round(rows.astype(np.float64), 3).tolist()))


def same(one: Callable[[Mesh], Any]) -> Callable[[Came, Mapping[int, Mesh]], bool]:
    def kept(came: Came, source: Mapping[int, Mesh]) -> bool:
        return all((back := came.frames.get(n)) is not None and one(back) == one(mesh) for n, mesh in source.items())

    return kept


def materials(mesh: Mesh) -> set[tuple[str, tuple[float, ...]]]:
    found = set()
    for part in mesh.parts:
        at = mesh.corners.v[mesh.corners.offsets[part.start] : mesh.corners.offsets[part.stop]]
        name = "" if part.material is None else part.material.text
        found |= {(name, tuple(point)) for point in mesh.positions[at].tolist()}
    return found


def objects(mesh: Mesh) -> set[tuple[str, tuple[float, ...]]]:
    named = tuple(Part(one.start, one.stop, None, one.object) for one in mesh.parts)
    return materials(replace(mesh, parts=named))


def slots(mesh: Mesh) -> set[tuple[str, Slot]]:
    return {(one.name.text, each.slot) for one in mesh.materials for each in one.maps}


def has_slot(slot: Slot) -> Callable[[Came, Mapping[int, Mesh]], bool]:
    """Return a check that all maps in this slot were kept. GLB adds a white colour map to a material with an opacity
    map."""

    def kept(came: Came, source: Mapping[int, Mesh]) -> bool:
        wanted = {each for mesh in source.values() for each in slots(mesh) if each[1] is slot}
        return bool(wanted) and all(mesh is not None and wanted <= slots(mesh) for mesh in came.frames.values())

    return kept


def says(line: bytes) -> Callable[[Came, Mapping[int, Mesh]], bool]:
    return lambda came, _: line in came.text.splitlines()


def all_points(mesh: Mesh) -> set[tuple[float, ...]]:
    return set(map(tuple, np.round(mesh.positions, 3).tolist()))


def points(mesh: Mesh) -> set[tuple[float, ...]]:
    return set(map(tuple, np.round(mesh.positions[mesh.corners.v], 3).tolist()))


def gap(came: Came, _: Mapping[int, Mesh]) -> bool:
    return [number for number, mesh in came.frames.items() if mesh is None or not len(mesh.positions)] == [3, 4]


def normals_where_there_were(came: Came, source: Mapping[int, Mesh]) -> bool:
    """Check that all normals were kept. Files in formats that require a normal at every corner may have more
    normals."""
    found = [(came.frames.get(n), mesh) for n, mesh in source.items()]
    return all(
        back is not None
        and corners(back, back.normals, back.corners.vn) >= corners(mesh, mesh.normals, mesh.corners.vn)
        for back, mesh in found
    )


def empty(came: Came, _: Mapping[int, Mesh]) -> bool:
    return [mesh is None or not len(mesh.positions) for mesh in came.frames.values()] == [True, False, False]


ROWS: Mapping[str, tuple[str, Trait | None, Callable[[Came, Mapping[int, Mesh]], bool]]] = {
    "UVs": ("all", Trait.UVS, same(lambda mesh: corners(mesh, mesh.uvs, mesh.corners.vt))),
    "partial UVs": ("partial", Trait.PARTIAL_UVS, same(lambda mesh: corners(mesh, mesh.uvs, mesh.corners.vt))),
    "third numbers": ("volumes", Trait.DEPTHS, says(b"vt 1 1 0.5")),
    "normals": ("all", Trait.NORMALS, same(lambda mesh: corners(mesh, mesh.normals, mesh.corners.vn))),
    "edges": ("normals", Trait.CORNER_NORMALS, same(lambda mesh: corners(mesh, mesh.normals, mesh.corners.vn))),
    "half normals": ("half normals", Trait.CORNER_NORMALS, normals_where_there_were),
    "colours": (
        "all",
        Trait.COLOURS,
        same(lambda mesh: len(mesh.colours) and corners(mesh, mesh.colours, mesh.corners.v)),
    ),
    "materials": ("all", Trait.MATERIALS, same(materials)),
    "materials without a library": ("names", Trait.MATERIALS, same(materials)),
    **{f"{slot.value} map": ("all", Trait.SURFACES, has_slot(slot)) for slot in Slot},
    "opacity": ("all", Trait.SURFACES, same(lambda mesh: sorted(one.opacity for one in mesh.materials) == [0.25, 1])),
    "objects": ("parts", Trait.OBJECTS, same(objects)),
    "groups": ("parts", Trait.GROUPS, says(b"g far")),
    "smoothing": ("parts", Trait.SMOOTHING, says(b"s 2")),
    "lines": ("parts", Trait.CURVES, says(b"l 1 5")),
    "loose vertices": ("parts", Trait.LOOSE, same(all_points)),
    "cloud": ("cloud", Trait.CLOUDS, same(all_points)),
    "changing topology": ("topology", None, same(points)),
    "gap": ("gap", Trait.GAPS, gap),
    "empty frame": ("empty", None, empty),
}
"""For each kind of data: the name of its source, its trait (None if every format carries the data), and a function that
returns whether the data was kept."""


WORDS = {Trait.GAPS: "frames 3, 4 are missing", Trait.PARTIAL_UVS: "some faces"}
"""For traits whose own words don't occur in the sentence about their loss: the words that occur instead."""

WHOLE = {
    Trait.PARTIAL_UVS: Trait.UVS,
    Trait.DEPTHS: Trait.UVS,
    Trait.CORNER_NORMALS: Trait.NORMALS,
    Trait.SURFACES: Trait.MATERIALS,
}
"""For each trait, the trait that includes it. If a format carries neither, only the including trait is named as
lost."""


@pytest.fixture(scope="module")
def source_meshes(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Mapping[int, Mesh]]:
    found: dict[str, dict[int, Mesh]] = {}
    for name, frames in SOURCES.items():
        folder = tmp_path_factory.mktemp(name)
        (folder / "kelp.mtl").write_bytes(LIBRARY)
        for number, text in frames.items():
            if b"\nv " in text:
                (folder / "kelp.obj").write_bytes(text)
                found.setdefault(name, {})[number] = whole(load_frame(folder / "kelp.obj"), folder)
    return found


def test_every_format_that_is_written_is_here() -> None:
    assert set(FORMATS) == {"obj", *forms()}, (
        "FORMATS, above, has each format that is written, and `delivered` reads it back; only in one of them: "
        f"{sorted(set(FORMATS) ^ {'obj', *forms()})}"
    )


@pytest.mark.parametrize("form", FORMATS)
def test_content_is_kept_or_named(form: str, tmp_path: Path, source_meshes: Mapping[str, Mapping[int, Mesh]]) -> None:
    came = {}
    for name in SOURCES:
        (tmp_path / name).mkdir()
        came[name] = delivered(tmp_path / name, form, name)
    keeps = format_by_id(form).keeps
    for row, (name, trait, kept) in ROWS.items():
        one = came[name]
        expected = trait is None or trait in keeps
        assert (not one.refused and kept(one, source_meshes[name])) == expected, (row, one.named, one.refused)
        if not expected and trait is not None:
            containing = WHOLE.get(trait, trait)
            lost = trait if containing in keeps else containing
            word = WORDS.get(lost, lost.value)
            assert word in one.refused or any(word in said for said in one.named), (row, one)
