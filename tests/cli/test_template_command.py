"""Tests of `meshqc template`. The SVG is parsed as XML (SVG 1.1)."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from inspector.picture.template import ISLAND, LAYERS, SAFE
from tests.helpers.command import assert_one_sentence, digests, meshqc, strict_json
from tests.helpers.sequences import frames, write
from tests.helpers.shapes import remapped, sheet_mesh, wall
from tests.helpers.uv_sheets import second_sheet

SHEET = sheet_mesh(wall(16, 9), 4, 5).edit(state=("usemtl skin",))
SVG = "{http://www.w3.org/2000/svg}"


def folder(place: Path, mesh=SHEET) -> Path:
    return write(place / "in", frames({1: mesh, 2: mesh}))


def arrow(svg: Path) -> np.ndarray:
    group = next(one for one in ElementTree.parse(svg).iter(f"{SVG}g") if one.get("id") == "arrows")
    path = group.find(f"{SVG}path")
    assert path is not None
    start, end = (np.array([*map(float, part.split())]) for part in path.get("d", "").split("M")[1].split("L"))
    return (end - start) * [1, -1]


def test_size_surface_and_safe_rectangle_at_known_pixels(tmp_path: Path) -> None:
    """In each direction, the sheet covers the middle half of a texture of 32 x 18 units. At 120 pixels per unit, it
    covers columns 960 to 2880 and rows 540 to 1620."""
    mesh = remapped(SHEET, lambda u, v: (0.25 + u / 2, 0.25 + v / 2))
    source = folder(tmp_path, mesh)
    before = digests(source)
    png, svg = tmp_path / "manta.png", tmp_path / "manta.svg"
    run = meshqc("template", source, "--density", "120", "--output", png, "--output", svg)
    assert (run.returncode, run.stderr) == (0, "")
    assert "skin, 3840 x 2160 px, aspect 1.778 to 1, bleed 30 px, geometry of 20" in run.stdout
    with Image.open(png) as image:
        assert (image.format, image.size) == ("PNG", (3840, 2160))
        pixels = np.asarray(image)
    assert pixels[700, 2700].tolist() == list(ISLAND)
    blue = np.argwhere((pixels == SAFE).all(axis=2))
    assert np.abs(blue.min(axis=0) - [540, 960]).max() <= 0.01 * 1920
    assert np.abs(blue.max(axis=0) - [1620, 2880]).max() <= 0.01 * 1920
    root = ElementTree.parse(svg).getroot()
    assert (root.get("width"), root.get("height")) == ("3840", "2160")
    assert digests(source) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in", "manta.png", "manta.svg"]


@pytest.mark.parametrize(
    ("change", "way"),
    [
        (lambda u, v: (u, v), [0, 1]),
        (lambda u, v: (v, 1 - u), [1, 0]),  # turned counter-clockwise on the surface: up is right in the texture
        (lambda u, v: (1 - v, u), [-1, 0]),
        (lambda u, v: (1 - u, 1 - v), [0, -1]),
        (lambda u, v: (1 - u, v), [0, 1]),
        (lambda u, v: (v, u), [1, 0]),  # mirrored and turned
    ],
)
def test_the_arrow_points_where_the_scenes_up_lies_in_the_texture(tmp_path: Path, change, way: list[int]) -> None:
    """Before `change` is applied to the UVs, v increases upwards on the sheet."""
    svg = tmp_path / "up.svg"
    assert (
        meshqc("template", folder(tmp_path, remapped(SHEET, change)), "--density", "20", "--output", svg).returncode
        == 0
    )
    found = arrow(svg)
    assert found / np.linalg.norm(found) == pytest.approx(way, abs=1e-6)


def test_the_demos_arrows_lie_outside_what_is_safe(demo: Path, tmp_path: Path) -> None:
    svg = tmp_path / "manta.svg"
    assert meshqc("template", demo / "manta", "--output", svg).returncode == 0
    groups = {one.get("id"): one for one in ElementTree.parse(svg).iter(f"{SVG}g")}
    boxes = [
        [float(box.get(key, "")) for key in ("x", "y", "width", "height")] for box in groups["safe"].iter(f"{SVG}rect")
    ]
    assert len(boxes) == 2
    for path in groups["arrows"].iter(f"{SVG}path"):
        ends = [tuple(map(float, place.split())) for place in path.get("d", "").replace("M", "L").split("L")[1:]]
        for x, y in ends:
            assert not any(left < x < left + width and top < y < top + height for left, top, width, height in boxes)
    words = [text.text for text in groups["arrows"].iter(f"{SVG}text")]
    assert sorted(words, key=str) == ["island 0 up, towards the back", "island 1 up, towards the front"]


def test_a_texture_that_repeats_is_drawn_where_it_shows(tmp_path: Path) -> None:
    mesh = remapped(SHEET, lambda u, v: (u / 2 + 0.75, v))
    png = tmp_path / "a.png"
    assert (
        meshqc("template", folder(tmp_path, mesh), "--density", "20", "--bleed", "2", "--output", png).returncode == 0
    )
    with Image.open(png) as image:
        pixels = np.asarray(image)
    row = (pixels == ISLAND).all(axis=2).mean(axis=0) > 0.3
    share = np.linspace(0, 1, len(row))
    assert row[share < 0.2].mean() > 0.8
    assert row[(share > 0.3) & (share < 0.7)].sum() == 0
    assert row[share > 0.8].mean() > 0.8


def test_a_bleed_wider_than_the_template_is_refused(tmp_path: Path) -> None:
    source, png = folder(tmp_path, SHEET), tmp_path / "a.png"
    run = meshqc("template", source, "--density", "9", "--bleed", "145", "--output", png)
    assert (run.returncode, png.exists()) == (2, False)
    assert run.stderr == (
        "meshqc: skin: a bleed of 145 pixels is wider than the template of 144 x 81 pixels; use --bleed 144 or less\n"
    )
    assert meshqc("template", source, "--density", "9", "--bleed", "144", "--output", png).returncode == 0


def test_layers_are_opened_as_such_and_hold_the_boxes_of_meshqc_fit(tmp_path: Path, demo: Path) -> None:
    like = demo / "manta" / "textures" / "manta.png"
    run = meshqc("template", demo / "manta", "--layers", tmp_path / "layers", "--like", like)
    assert (run.returncode, run.stderr) == (0, "")
    assert sorted(path.name for path in (tmp_path / "layers").iterdir()) == [
        f"{at}_{name}.png" for at, name in enumerate(LAYERS, 1)
    ]
    fit = strict_json(meshqc("fit", demo / "manta", "--json").stdout)
    (material,) = fit["sequences"][0]["materials"]
    boxes = [island["lettering_box"] for island in material["islands"]]
    assert len(boxes) == 2
    with Image.open(tmp_path / "layers" / "5_safe.png") as image:
        assert (image.mode, image.size) == ("RGBA", (480, 200))
        pixels = np.asarray(image)
    blue = (pixels[..., 3] == 255) & (pixels[..., :3] == SAFE).all(axis=2)
    for box in boxes:
        left, right = round(box["left"] * 480), round(box["right"] * 480)
        top, bottom = round((1 - box["top"]) * 200), round((1 - box["bottom"]) * 200)
        for row, column in ((top, left), (top, right), (bottom, left), (bottom, right)):
            assert blue[row - 1 : row + 2, column - 1 : column + 2].any()
        assert blue[top - 1 : top + 2, left:right].any(axis=0).all()


def test_the_size_of_a_map_of_another_aspect_is_cautioned_about(tmp_path: Path) -> None:
    like = tmp_path / "square.png"
    Image.new("RGB", (256, 256)).save(like)
    run = meshqc("template", folder(tmp_path), "--like", like, "--output", tmp_path / "a.png")
    assert run.stderr == "caution: the aspect ratio of 256 x 256 px is wrong; the surface needs 1.78 to 1\n"
    with Image.open(tmp_path / "a.png") as image:
        assert image.size == (256, 256)


def test_what_is_not_written(tmp_path: Path) -> None:
    source = folder(tmp_path)
    taken = write(tmp_path, {"taken.png": b"mine"}) / "taken.png"
    for words, said in (
        (["--output", taken], "already exists"),
        (["--output", source / "new.png"], "never written to"),
        (["--output", tmp_path / "a.jpg"], "must end in .png or .svg"),
        (["--output", tmp_path / "none" / "a.png"], "no such folder"),
        (["--output", tmp_path / "a.png", "--output", tmp_path / "a.png"], "given twice"),
        (["--output", tmp_path / "a.png", "--density", "100000"], "too many"),
        (["--output", tmp_path / "a.png", "--sequence", "kelp"], "--sequence must name exactly one sequence"),
        ([], "--output"),
    ):
        run = meshqc("template", source, *words)
        assert run.returncode == 2
        assert_one_sentence(run.stderr)
        assert said in run.stderr
    assert taken.read_bytes() == b"mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in", "taken.png"]


def test_of_several_the_meant_one(tmp_path: Path, demo: Path) -> None:
    run = meshqc("template", demo, "--output", tmp_path / "a.png")
    assert (
        "there are several sequences; choose one with --sequence: buoy, kelp_broken, manta, manta_broken" in run.stderr
    )
    for form in ("manta.{}.obj", "manta_{}.obj"):  # two sequences with equal names except before the number
        for path in (demo / "manta").glob("manta.000[1-3].obj"):
            write(tmp_path / "alike", {form.format(path.stem[-4:]): path.read_bytes()})
    run = meshqc("template", tmp_path / "alike", "--sequence", "manta", "--output", tmp_path / "a.png")
    assert "choose one of: manta.####.obj, manta_####.obj" in run.stderr
    named = ("--sequence", "manta_####.obj", "--density", "9", "--output", tmp_path / "alike.png")
    assert meshqc("template", tmp_path / "alike", *named).returncode == 0
    both = folder(tmp_path, second_sheet(SHEET, "fin", [0, 20, 0]))
    assert "choose one with --material: skin, fin" in meshqc("template", both, "--output", tmp_path / "a.png").stderr
    run = meshqc("template", both, "--density", "9", "--material", "fin", "--output", tmp_path / "a.png")
    assert "a.png: fin, 144 x 81 px, aspect 1.778 to 1, bleed 1 px, geometry of " in run.stdout
