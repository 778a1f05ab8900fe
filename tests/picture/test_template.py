"""Tests of the designer's template. The PNG is checked at known pixels, and the SVG is parsed as XML."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from inspector.picture.svg import template_svg
from inspector.picture.template import (
    ARROW,
    BLEED,
    ISLAND,
    LAYERS,
    MARGIN,
    OUTLINE,
    PAPER,
    SAFE,
    Arrow,
    Template,
    arrow_label,
    draw_layers,
    draw_template,
    safe_label,
)

LINES = np.array([[[0.25, 0.5], [0.75, 0.5]], [[0.75, 0.5], [0.25, 1.0]], [[0.25, 1.0], [0.25, 0.5]]])
PLAIN = Template(
    width=400,
    height=200,
    triangles=np.array([[[0.25, 0.5], [0.75, 0.5], [0.25, 1.0]]]),
    face=np.array([0]),
    sides=LINES,
    outlines=LINES,
    bleed=6,
)
SVG = "{http://www.w3.org/2000/svg}"


def test_the_template_at_known_pixels() -> None:
    picture = draw_template(PLAIN)
    assert picture.shape == (200, 400, 3)
    assert picture[80, 130].tolist() == list(ISLAND)
    assert (picture[100, 101:190] == OUTLINE).all()
    below = picture[101:106, 150].tolist()
    assert all(colour in (list(BLEED), list(PAPER)) for colour in below)
    assert list(BLEED) in below
    assert (picture[107:180, 150] == PAPER).all()


def test_the_title_keeps_off_the_edges() -> None:
    for width in (400, 4000):
        picture = draw_template(replace(PLAIN, width=width, height=width // 2))
        ink = np.argwhere((picture == ARROW).all(axis=2))
        assert ink.size
        dot = width / 700
        assert min(ink.min(), (picture.shape[:2] - ink).min()) >= 2 * dot


def test_labels_stay_on_the_texture_and_the_title_off_the_arrows() -> None:
    whole = np.array([[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]])
    ends = ((0.99, 0.02), (0.02, 0.93))
    arrows = tuple(Arrow(place, (0.0, 0.05), "island 1 up, to the front") for place in ends)
    template = replace(PLAIN, triangles=whole, arrows=arrows[:2], material="skin", safe=((0.02, 0.02, 0.98, 0.98),))
    for arrow in template.arrows:
        (left, top), (right, bottom) = arrow_label(arrow, template).box
        assert 0 <= left < right < template.width
        assert 0 <= top < bottom < template.height
    layers = {name: layer[..., 3] > 0 for name, layer in draw_layers(template)}
    assert layers["title"].any()
    assert not (layers["title"] & layers["arrows"]).any()
    (left, top), (right, bottom) = safe_label(template.safe_corners()[0], template).box
    assert not layers["title"][top:bottom, left:right].any()
    svg = ElementTree.fromstring(template_svg(template))
    drawn = {float(one.get("x", "")) for one in svg.iter(f"{SVG}text") if one.text == arrows[0].label}
    assert drawn == {arrow_label(arrow, template).left for arrow in template.arrows}


def test_no_bleed_asked_for_none_drawn() -> None:
    assert not (draw_template(replace(PLAIN, bleed=0)) == BLEED).all(axis=2).any()


def test_the_safe_rectangle_is_drawn_at_its_place() -> None:
    picture = draw_template(replace(PLAIN, safe=((0.3, 0.55, 0.5, 0.7),)))
    blue = np.argwhere((picture == SAFE).all(axis=2))
    assert np.abs(blue.min(axis=0) - [60, 120]).max() <= 1
    assert np.abs(blue.max(axis=0) - [90, 200]).max() <= 1


def test_layers_are_transparent_and_make_up_the_template() -> None:
    template = replace(PLAIN, safe=((0.3, 0.55, 0.5, 0.7),), arrows=(Arrow((0.1, 0.1), (0.0, 0.2), "up"),))
    layers = dict(draw_layers(template))
    assert tuple(layers) == LAYERS
    whole = Image.new("RGBA", (400, 200), (*PAPER, 255))
    for layer in layers.values():
        assert layer.shape == (200, 400, 4)
        assert 0 < (layer[..., 3] == 0).mean() < 1
        whole = Image.alpha_composite(whole, Image.fromarray(layer))
    difference = np.abs(np.asarray(whole.convert("RGB")).astype(int) - draw_template(template))
    assert difference.max() <= 2
    assert not (layers["edges"][..., 3] > 0)[:, :99].any()
    assert (layers["edges"][100, 101:299, 3] == 255).all()
    assert (layers["edges"][90, 110:200, 3] == 0).all()  # thin: nothing between the lines


def test_the_safe_box_and_its_margin_are_where_the_lettering_box_is() -> None:
    """On 400 x 200 pixels, u from 0.3 to 0.5 and v from 0.55 to 0.7 are columns 120 to 200 and rows 60 to 90. The
    margin inside the box is a twentieth of these 30 rows."""
    layers = dict(draw_layers(replace(PLAIN, safe=((0.3, 0.55, 0.5, 0.7),))))
    for name, ink, (top, left, bottom, right) in (
        ("safe", SAFE, (60, 120, 90, 200)),
        ("margin", MARGIN, (61.5, 121.5, 88.5, 198.5)),
    ):
        layer = layers[name]
        there = np.argwhere((layer[..., 3] == 255) & (layer[..., :3] == ink).all(axis=2))
        assert np.abs(there.min(axis=0) - [top, left]).max() <= 1
        assert np.abs(there.max(axis=0) - [bottom, right]).max() <= 1


def test_corners_and_centre_are_marked() -> None:
    marks = dict(draw_layers(PLAIN))["marks"][..., 3] > 0
    for row, column in ((0, 0), (0, 399), (199, 0), (199, 399), (100, 200), (0, 200), (199, 200), (100, 0), (100, 399)):
        assert marks[row, column]
        near = marks[max(row - 8, 0) : row + 9, max(column - 8, 0) : column + 9]
        assert 8 <= near.sum() <= 40
    assert not marks[50, 50:150].any()


def test_the_title_has_material_size_aspect_and_date() -> None:
    template = replace(PLAIN, material="manta_skin", aspect=2.42084, date="2026-11-28")
    assert template.title() == "manta_skin, 400 x 200 px, aspect 2.421 to 1, bleed 6 px, geometry of 2026-11-28"


def test_the_svg_says_the_same_in_layers() -> None:
    template = replace(PLAIN, safe=((0.3, 0.55, 0.5, 0.7),), arrows=(Arrow((0.1, 0.1), (0.0, 0.2), "up"),))
    root = ElementTree.fromstring(template_svg(template))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("400", "200", "0 0 400 200")
    groups = {group.get("id"): group for group in root.iter(f"{SVG}g")}
    assert list(groups) == list(LAYERS)
    box = groups["safe"].find(f"{SVG}rect")
    assert box is not None
    assert [box.get(key) for key in ("x", "y", "width", "height")] == ["120", "60", "80", "30"]
    assert groups["bleed"].get("stroke-width") == "12"
    surface = groups["surface"].find(f"{SVG}path")
    assert surface is not None
    assert set(surface.get("d", "").strip("MZ").split("L")) == {"100 100", "300 100", "100 0"}
    texts = [text.text for text in root.iter(f"{SVG}text")]
    assert texts == ["safe: 80 x 30 px", "up", "400 x 200 px, bleed 6 px"]  # the longer label doesn't fit


def test_mirrored_triangles_leave_no_hole_in_the_svg() -> None:
    """All triangles are written with the same orientation, so overlapping triangles add up under the nonzero fill rule
    (SVG 1.1, 11.3)."""
    both = np.concatenate([PLAIN.triangles, PLAIN.triangles[:, ::-1]])
    root = ElementTree.fromstring(template_svg(replace(PLAIN, triangles=both, face=np.array([0, 1]))))
    path = next(group for group in root.iter(f"{SVG}g") if group.get("id") == "surface").find(f"{SVG}path")
    assert path is not None
    one, other = path.get("d", "").rstrip("Z").replace("M", "").split("Z")
    assert one.split("L") == other.split("L") or sorted(one.split("L")) == sorted(other.split("L"))
    areas = []
    for part in (one, other):
        (a, b), (c, d), (e, f) = ([float(number) for number in corner.split()] for corner in part.split("L"))
        areas.append((c - a) * (f - b) - (e - a) * (d - b))
    assert areas[0] == areas[1]


def test_hostile_labels_stay_text() -> None:
    arrow = Arrow((0.1, 0.1), (0.1, 0.0), '</g><script>x</script> & "\x1b[31m\ud800')
    text = template_svg(replace(PLAIN, arrows=(arrow,)))
    root = ElementTree.fromstring(text)
    assert not list(root.iter(f"{SVG}script"))
    assert "\x1b" not in text
    assert next(root.iter(f"{SVG}text")).text == '</g><script>x</script> & "\\x1b[31m\\ud800'
    assert draw_template(replace(PLAIN, arrows=(arrow,))).shape == (200, 400, 3)


def test_a_template_without_any_surface_is_paper() -> None:
    nothing = np.zeros((0, 2, 2))
    empty = replace(PLAIN, triangles=np.zeros((0, 3, 2)), face=np.zeros(0, int), sides=nothing, outlines=nothing)
    assert (draw_template(empty)[100:190, 150] == PAPER).all()
    assert ElementTree.fromstring(template_svg(empty)).tag == f"{SVG}svg"


@pytest.mark.parametrize(
    ("width", "height", "size"), [(2048, 1024, 29), (7000, 101, 100), (7000, 99, 99), (9000, 5, 12)]
)
def test_letters_are_no_larger_than_a_strip_is_wide(width: int, height: int, size: int) -> None:
    """The height of letters is a seventieth of the picture's longer side (common practice, no source), but less on a
    narrow strip. A label 3,700 pixels high once took 90 MB."""
    assert replace(PLAIN, width=width, height=height).letters == size
