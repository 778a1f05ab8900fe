"""The designer's template: the PNG at known pixels, the SVG as XML."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np

from inspector.picture.svg import template_svg
from inspector.picture.template import ARROW, BLEED, ISLAND, OUTLINE, PAPER, SAFE, Arrow, Template, draw_template

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
    """The triangle's lower side lies at v = 0.5, that is on row 100, from column 100 to 300."""
    picture = draw_template(PLAIN)
    assert picture.shape == (200, 400, 3)
    assert picture[80, 130].tolist() == list(ISLAND)
    assert (picture[100, 101:299] == OUTLINE).all()
    below = picture[101:106, 150].tolist()
    assert all(colour in (list(BLEED), list(PAPER)) for colour in below)
    assert list(BLEED) in below
    assert (picture[107:180, 150] == PAPER).all()


def test_the_title_keeps_off_the_edges() -> None:
    """At any size: it once touched the edge of large templates, where a dot of the font has many pixels."""
    for width in (400, 4000):
        picture = draw_template(replace(PLAIN, width=width, height=width // 2))
        ink = np.argwhere((picture == ARROW).all(axis=2))
        assert ink.size
        dot = width / 700
        assert min(ink.min(), (picture.shape[:2] - ink).min()) >= 2 * dot


def test_no_bleed_asked_for_none_drawn() -> None:
    assert not (draw_template(replace(PLAIN, bleed=0)) == BLEED).all(axis=2).any()


def test_the_safe_rectangle_is_drawn_at_its_place() -> None:
    picture = draw_template(replace(PLAIN, safe=((0.3, 0.55, 0.5, 0.7),)))
    blue = np.argwhere((picture == SAFE).all(axis=2))
    assert np.abs(blue.min(axis=0) - [60, 120]).max() <= 1
    assert np.abs(blue.max(axis=0) - [90, 200]).max() <= 1


def test_the_svg_says_the_same_in_layers() -> None:
    template = replace(PLAIN, safe=((0.3, 0.55, 0.5, 0.7),), arrows=(Arrow((0.1, 0.1), (0.0, 0.2), "up"),))
    root = ElementTree.fromstring(template_svg(template))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("400", "200", "0 0 400 200")
    groups = {group.get("id"): group for group in root.iter(f"{SVG}g")}
    assert list(groups) == ["bleed", "surface", "edges", "outlines", "safe", "marks"]
    box = groups["safe"].find(f"{SVG}rect")
    assert box is not None
    assert [box.get(key) for key in ("x", "y", "width", "height")] == ["120", "60", "80", "30"]
    assert groups["bleed"].get("stroke-width") == "12"
    surface = groups["surface"].find(f"{SVG}path")
    assert surface is not None
    assert set(surface.get("d", "").strip("MZ").split("L")) == {"100 100", "300 100", "100 0"}
    texts = [text.text for text in root.iter(f"{SVG}text")]
    assert texts == ["safe 80 x 30", "up"]  # the longer words don't fit in


def test_mirrored_triangles_leave_no_hole_in_the_svg() -> None:
    """All run in one sense, so that overlapping ones add up under the nonzero fill rule (SVG 1.1, 11.3)."""
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
    assert [element.text for element in root.iter(f"{SVG}text")] == [
        '</g><script>x</script> & "\\x1b[31m\\ud800',
    ]
    assert draw_template(replace(PLAIN, arrows=(arrow,))).shape == (200, 400, 3)


def test_a_template_without_any_surface_is_paper() -> None:
    nothing = np.zeros((0, 2, 2))
    empty = replace(PLAIN, triangles=np.zeros((0, 3, 2)), face=np.zeros(0, int), sides=nothing, outlines=nothing)
    assert (draw_template(empty)[100:, 200] == PAPER).all()
    assert ElementTree.fromstring(template_svg(empty)).tag == f"{SVG}svg"
