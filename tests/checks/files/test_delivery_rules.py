"""Tests of `delivery-rules`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.finding import Severity
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.settings import Settings
from tests.helpers.broken.files import laid_down, renamed
from tests.helpers.captioned import lettered_folder
from tests.helpers.images import image_file, normals, spots
from tests.helpers.materials import with_library
from tests.helpers.meshes import Mesh
from tests.helpers.one_thing import broken, every
from tests.helpers.reliefs import RELIEFS, normal_map
from tests.helpers.rules import rules_of
from tests.helpers.sequences import Files, Heard, heard, look, shot

ALL = [float(number) for number in range(1, 13)]


def edited(edit: Callable[[Mesh], Mesh], numbers: range = range(1, 13)) -> Files:
    return shot(dict.fromkeys(numbers, edit))


def pentagon(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=((*mesh.faces[0], (10, mesh.faces[0][0][1], -1)), *mesh.faces[1:]))


def with_normals(mesh: Mesh) -> Mesh:
    faces = tuple(tuple((v, vt, 0) for v, vt, _ in face) for face in mesh.faces)
    return mesh.edit(faces=faces, normals=np.array([[0.0, -1.0, 0.0]]))


CASES: dict[str, tuple[str, Files, list[float]]] = {
    "frames.range": ('[frames]\nrange = "1-12"', shot(numbers=range(1, 15)), [13.0, 14.0]),
    "frames.padding": ("[frames]\npadding = 4", renamed(shot()), ALL),
    "frames.most": ("[frames]\nmost = 12", shot(numbers=range(1, 14)), [*ALL, 13.0]),
    "frames.most_bytes": ("[frames]\nmost_bytes = 20_000", every(lambda data: data + b"# " + b"x" * 2000 + b"\n"), ALL),
    "mesh.corners": ("[mesh]\ncorners = [4]", edited(pentagon), ALL),
    "mesh.most_bytes": ("[mesh]\nmost_bytes = 2000", every(lambda data: data + b"# " + b"x" * 2000 + b"\n"), ALL),
    "mesh.normals": ('[mesh]\nnormals = "forbidden"', edited(with_normals), ALL),
    "mesh.material_names": (
        '[mesh]\nmaterial_names = ["skin"]',
        every(lambda data: data.replace(b"skin", b"hide")) | {"manta.mtl": b"newmtl hide\nmap_Kd skin.png\n"},
        ALL,
    ),
    "scene.size": ("[scene]\nsize = 4", edited(lambda mesh: mesh.edit(positions=mesh.positions * 7)), ALL),
    "scene.up": ('[scene]\nup = "y"\nheight = 0.35', edited(laid_down), ALL),
    "scene.sides": ("[scene]\nsides = [4, 0.35, 1.5]", edited(laid_down), ALL),
    "textures.maps": ('[textures]\nmaps = ["colour"]', with_library("Kd 1 1 1"), ALL),
    "textures.least_side": ("[textures]\nleast_side = 20", shot() | {"skin.png": image_file(spots(61, 19))}, ALL),
    "textures.equal_size": (
        "[textures]\nequal_size = true",
        with_library("map_Kd skin.png", "norm a.png", a=image_file(normals(128, 40))),
        ALL,
    ),
    "textures.aspect_within": (
        "[textures]\naspect_within = 1.1",
        shot() | {"skin.png": image_file(spots(64, 25))},
        ALL,
    ),
    "textures.bits": (
        "[textures]\nbits = [8]",
        with_library("map_Kd skin.png", "map_Pr a.png", a=image_file(spots()[..., 0].astype(np.uint16) * 256)),
        ALL,
    ),
    "textures.normal_green": (
        '[textures]\nnormal_green = "up"',
        with_library("map_Kd skin.png", "norm a.png", a=image_file(normal_map(RELIEFS["eggs"], green_up=False))),
        ALL,
    ),
    "textures.colour_spaces": (
        '[textures]\ncolour_spaces = ["skin"]',
        with_library("map_Kd shellskin.png", shellskin=image_file(spots())),
        ALL,
    ),
    "textures.most_side": ("[textures]\nmost_side = 64", shot() | {"skin.png": image_file(spots(128, 40))}, ALL),
}


TURNED = {"uv-turned": "what points up turns with the object"}
COMPANIONS = {
    "mesh.corners": {"concave-faces": "the corner that is put in bends in"},
    "textures.aspect_within": {"map-aspect": "on this image the texture is squeezed everywhere"},
    "scene.up": TURNED,
    "scene.sides": TURNED,
}


@pytest.mark.parametrize("key", CASES)
def test_a_demand_kept_and_broken(tmp_path: Path, key: str) -> None:
    text, files, frames = CASES[key]
    settings = Settings().under(rules_of(tmp_path, f'{text}\n[checks]\nscale-suspect = "off"'))
    stated = {"rules": settings.rules, "expected": settings.expected, "size": settings.size}
    found, inspection = broken(tmp_path, "delivery-rules", files, companions=COMPANIONS.get(key), **stated)
    assert ("delivery-rules", "error", frames) in found
    (finding,) = (one for one in inspection.findings if one.check == "delivery-rules")
    assert finding.numbers["rule"] == key
    assert finding.message.startswith(f"{key}: ")


def says(tmp_path: Path, text: str, files: Files) -> list[Heard]:
    one = look(tmp_path / "shot", files, rules=rules_of(tmp_path, text))
    return [said for said in heard(one) if said[0] == "delivery-rules"]


@pytest.mark.parametrize(
    ("kept", "missed"),
    [
        ("[mesh]\nvertices = 20", "[mesh]\nvertices = 21"),
        ("[mesh]\nfaces = 12", "[mesh]\nfaces = 11"),
        ("[mesh]\nmost_vertices = 20", "[mesh]\nmost_vertices = 19"),
        ('[mesh]\nuvs = "required"', '[mesh]\nuvs = "forbidden"'),
        ('[mesh]\nmaterials = "required"', '[mesh]\nmaterials = "forbidden"'),
        ("[mesh]\ncorners = [3, 4]", "[mesh]\ncorners = [3]"),
        ("[frames]\nmost = 12", "[frames]\nmost = 11"),
        ("[textures]\nmost_side = 64", "[textures]\npower_of_two = true"),
        ("[textures]\nleast_side = 20", "[textures]\nleast_side = 21"),
        ("[textures]\nbits = [8, 16]", "[textures]\nbits = [16]"),
        ('[textures]\nmaps = ["colour"]', '[textures]\nmaps = ["colour", "normal"]'),
        ('[textures]\ncolour_spaces = ["raw", "SKIN"]', '[textures]\ncolour_spaces = ["raw"]'),
    ],
)
def test_at_the_edge_of_a_demand(tmp_path: Path, kept: str, missed: str) -> None:
    """The wing has 20 vertices, 12 quads, UVs and a material. Its texture has 64 x 20 pixels."""
    assert says(tmp_path, kept, shot()) == []
    assert says(tmp_path, missed, shot()) == [("delivery-rules", "error", ALL)]


@pytest.mark.parametrize("kind", ["uvs", "normals", "materials"])
def test_what_is_required_and_lacks_on_some_frames(tmp_path: Path, kind: str) -> None:
    def bare(mesh: Mesh) -> Mesh:
        if kind == "materials":
            return mesh.edit(state=())
        return mesh.edit(faces=tuple(tuple((v, -1, -1) for v, _, _ in face) for face in mesh.faces))

    files = edited(with_normals) | {f"manta.{n:04}.obj": edited(bare)[f"manta.{n:04}.obj"] for n in (3, 4)}
    assert says(tmp_path, f'[mesh]\n{kind} = "required"', files) == [("delivery-rules", "error", [3.0, 4.0])]


def test_the_reason_of_a_rule_goes_with_its_finding(tmp_path: Path) -> None:
    text = '[mesh]\ncorners = { value = [3], reason = "the renderer takes triangles" }'
    (finding,) = look(tmp_path / "shot", shot(), rules=rules_of(tmp_path, text)).findings
    assert (finding.reason, finding.fixes) == ("the renderer takes triangles", ("triangulate",))


def test_a_check_switched_off_says_so(tmp_path: Path) -> None:
    files = edited(lambda mesh: mesh.edit(faces=mesh.faces[:-1]), range(5, 6))
    assert [one.check for one in look(tmp_path / "shot", files).findings if one.severity is Severity.ERROR]
    text = '[checks]\nface-count = { severity = "off", reason = "it sheds" }'
    one = look(tmp_path / "shot", files, rules=rules_of(tmp_path, text))
    assert dict(one.verdict.skipped)["face-count"] == "switched off by the rules: it sheds"
    assert "face-count" not in {finding.check for finding in one.findings}


def test_another_severity_and_its_reason(tmp_path: Path) -> None:
    files = edited(lambda mesh: mesh.edit(faces=mesh.faces[:-1]), range(5, 6))
    text = '[checks]\nface-count = { severity = "note", reason = "it sheds" }'
    one = look(tmp_path / "shot", files, rules=rules_of(tmp_path, text))
    (finding,) = (finding for finding in one.findings if finding.check == "face-count")
    assert (finding.severity, finding.reason) == (Severity.NOTE, "it sheds")
    assert one.findings[-1] is finding  # findings are sorted by the severity from the rules, the worst first


def larger(mesh: Mesh) -> Mesh:
    middle = mesh.positions.mean(axis=0)
    return mesh.edit(positions=middle + 1.6 * (mesh.positions - middle))


def test_another_threshold(tmp_path: Path) -> None:
    files = edited(larger, range(6, 7))

    def found(factor: float) -> bool:
        rules = rules_of(tmp_path, f"[checks]\nsize-jump = {{ thresholds = {{ jump-size = {factor} }} }}")
        return "size-jump" in {one.check for one in look(tmp_path / "shot", files, rules=rules).findings}

    assert [found(1.15), found(1.5), found(1.8)] == [True, True, False]


def test_a_bump_map_of_normals_is_the_normal_map_that_is_wanted(tmp_path: Path) -> None:
    text = '[textures]\nmaps = ["normal"]'
    height = with_library("map_Kd skin.png", "map_Bump a.png", a=image_file(spots()[..., 0]))
    normal = with_library("map_Kd skin.png", "map_Bump a.png", a=image_file(normals()))
    assert says(tmp_path, text, height) == [("delivery-rules", "error", ALL)]
    assert says(tmp_path, text, normal) == []


def breaches(tmp_path: Path, folder: Path, text: str) -> list[str]:
    (found,) = inspect_folder(folder, Settings().under(rules_of(tmp_path, text))).inspections
    return [one.message for one in found.findings if one.check == "delivery-rules"]


def test_two_materials_without_a_required_map(tmp_path: Path) -> None:
    edits = {number: lambda mesh: mesh.edit(state=("usemtl fin",)) for number in range(7, 13)}
    look(tmp_path / "shot", shot(edits) | {"manta.mtl": b"newmtl skin\nmap_Kd skin.png\nnewmtl fin\nmap_Kd skin.png\n"})
    assert breaches(tmp_path, tmp_path / "shot", '[textures]\nmaps = ["colour", "normal"]') == [
        "textures.maps: materials `skin` and `fin` have no normal map"
    ]


@pytest.mark.parametrize(
    ("text", "files", "message"),
    [
        ('[frames]\nrange = "1-12"', shot(numbers=range(1, 14)), "frames.range: 1 frame is outside the range 1-12"),
        ('[frames]\nrange = "1-12"', shot(numbers=range(1, 15)), "frames.range: 2 frames are outside the range 1-12"),
        (
            "[frames]\npadding = 4",
            {name.replace(".0012.", ".12."): data for name, data in shot().items()},
            "frames.padding: the frame number of manta.12.obj doesn't have 4 digits",
        ),
        (
            "[frames]\npadding = 4",
            renamed(shot()),
            "frames.padding: the frame numbers of 12 files don't have 4 digits; the first of these files is "
            "manta.01.obj",
        ),
        ("[frames]\nmost = 1", shot(), "frames.most: the sequence has 12 frames; the maximum is 1"),
        ("[mesh]\nvertices = 1", shot(), "mesh.vertices: the mesh has 20 vertices instead of 1"),
        (
            "[mesh]\ncorners = [3]",
            edited(pentagon),
            "mesh.corners: some faces have 4 or 5 corners, but must have 3",
        ),
        (
            "[mesh]\ncorners = [5, 6]",
            shot(),
            "mesh.corners: some faces have 4 corners, but must have 5 or 6",
        ),
        (
            "[textures]\nleast_side = 21",
            shot(),
            "textures.least_side: texture skin.png has 64 x 20 pixels; the minimum is 21 per side",
        ),
        (
            "[textures]\nmost_side = 32",
            with_library("map_Kd skin.png", "norm a.png", a=image_file(normals(64, 40))),
            "textures.most_side: texture skin.png has 64 x 20 pixels; the maximum is 32 per side; "
            "1 other texture breaks the same rule",
        ),
        (
            "[textures]\nbits = [16, 32]",
            shot(),
            "textures.bits: texture skin.png has 8 bits per channel instead of 16 or 32",
        ),
    ],
)
def test_words_of_a_demand(tmp_path: Path, text: str, files: Files, message: str) -> None:
    look(tmp_path / "shot", files)
    assert breaches(tmp_path, tmp_path / "shot", text) == [message]


def test_captions_have_to_be_readable(tmp_path: Path) -> None:
    """The colour #eeeeee has a contrast of 1.16:1 against white. Capitals are 211 pixels high in a picture of 1920 x
    1080 pixels, and 21.1 pixels high in a picture of 192 x 108 pixels."""
    folder = lettered_folder(tmp_path / "shot")
    pale = "in a picture of 1920 x 1080 pixels, caption version pale"
    assert breaches(tmp_path, folder, "[captions]\nreadable = true\nleast_contrast = 4.5\nleast_height = 200") == [
        f"captions.readable: {pale} is unreadable (too little contrast)",
        f"captions.least_contrast: {pale} has a contrast of 1.16:1 against its background; at least 4.5:1 is required",
        f"captions.least_height: {pale} is not visible; capitals at least 200 pixels high are required",
    ]
    file = folder / "captions.toml"
    file.write_text(
        file.read_text().replace("#eeeeee", "#203040").replace('name = "pale"', 'name = "p"\nframes = "1-2"')
    )
    text = '[captions]\nreadable = true\nleast_height = {}\npicture = "{}"'
    assert breaches(tmp_path, folder, text.format(200, "1920x1080")) == []
    assert breaches(tmp_path, folder, text.format(20, "192x108")) == []
    assert breaches(tmp_path, folder, text.format(30, "192x108")) == [
        f"captions.least_height: in a picture of 192 x 108 pixels, caption version {name} has capitals 21.1 pixels "
        "high; capitals at least 30 pixels high are required"
        for name in ("en", "p")
    ]
    assert breaches(tmp_path, folder, text.format(1, "96x54")) == [
        f"captions.readable: in a picture of 96 x 54 pixels, caption version {name} is unreadable (too small)"
        for name in ("en", "p")
    ]
    file.write_text(file.read_text().replace('"1-2"', '"7-9"'))
    assert breaches(tmp_path, folder, "[captions]\nreadable = true") == [
        f"captions.readable: caption version {name} is for frames 7-9, none of which could be read"
        for name in ("en", "p")
    ]
    file.write_text(file.read_text().replace('"7-9"', '"7-7"'))
    assert breaches(tmp_path, folder, "[captions]\nreadable = true") == [
        f"captions.readable: caption version {name} is for frame 7, which could not be read" for name in ("en", "p")
    ]
    file.write_text("[[version]]\n")
    (wrong,) = breaches(tmp_path, folder, "[captions]\nreadable = true")
    assert "captions.toml, line 1: version 1: name: a value is required" in wrong


def test_a_caption_that_is_too_low_on_some_frames_and_not_visible_on_others(tmp_path: Path) -> None:
    """On the last frame, the object is far away along x, so the picture is 10,016 units wide instead of 16. Capitals of
    211 pixels shrink to 211 * 16 / 10,016 = 0.3 pixels."""
    folder = lettered_folder(tmp_path / "shot")
    last = folder / "manta.0003.obj"
    lines = (line.split() for line in last.read_text().splitlines())
    moved = (["v", str(float(line[1]) + 1e4), *line[2:]] if line[:1] == ["v"] else line for line in lines)
    last.write_text("".join(" ".join(line) + "\n" for line in moved))
    _, message = breaches(tmp_path, folder, "[captions]\nleast_height = 1")
    assert message.endswith(
        "pale has capitals 0.3 pixels high on some frames and is not visible on others; "
        "capitals at least 1 pixel high are required"
    )
