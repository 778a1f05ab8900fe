"""Tests of the pictures of screens in the README."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image
from rich.color import Color
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from tests.helpers.tui.drawn import HIGH, WIDE, drawn
from tests.helpers.tui.painting import boxes_by_colour, svg
from tests.helpers.tui.readme_screens import ANIMATION, FOLDER, SCREENS, STEPS

_MOST_BYTES = 300_000  # of all pictures together, because every clone contains them
_SVG = "{http://www.w3.org/2000/svg}"


def test_the_folder_holds_the_list_and_nothing_else() -> None:
    expected = {f"{name}.{ending}" for name in SCREENS for ending in ("svg", "png")}
    sizes = {path.name: path.stat().st_size for path in FOLDER.iterdir()}
    assert sizes.pop(f"{ANIMATION}.png") < _MOST_BYTES
    assert sizes.keys() == expected
    assert sum(sizes.values()) < _MOST_BYTES


def test_the_animated_picture_has_a_picture_for_each_step() -> None:
    """Pillow reads the animation as a browser does."""
    with Image.open(FOLDER / f"{ANIMATION}.png") as picture:
        assert picture.size == (80 * WIDE, 26 * HIGH)
        durations = []
        for at in range(picture.n_frames):
            picture.seek(at)
            durations.append(picture.info["duration"])
    # Equal pictures in a row are merged into one.
    assert sum(durations) == pytest.approx(sum(1000 * seconds for *_, seconds in STEPS))
    assert len(durations) <= len(STEPS)


def test_both_pictures_of_a_screen_have_its_size_and_title() -> None:
    for name, shown in SCREENS.items():
        width, height = shown.size[0] * WIDE, shown.size[1] * HIGH
        root = ElementTree.fromstring((FOLDER / f"{name}.svg").read_text(encoding="utf-8"))
        assert root.get("viewBox") == f"0 0 {width} {height}"
        assert root.findtext(f"{_SVG}title") == shown.title
        # Bytes 16 to 24 of a PNG are its width and height (ISO/IEC 15948, 11.2.2, IHDR).
        head = (FOLDER / f"{name}.png").read_bytes()[:24]
        assert (int.from_bytes(head[16:20], "big"), int.from_bytes(head[20:24], "big")) == (width, height)


def test_readme_shows_pictures_that_are_there_and_says_in_words_what_they_show() -> None:
    readme = Path(__file__).parents[2] / "README.md"
    shown = re.findall(r"!\[([^\]]*)\]\((fixtures/screens/[^)]+)\)", readme.read_text(encoding="utf-8"))
    assert len(shown) >= 3
    for words, path in shown:
        assert len(words.split()) > 3
        assert (readme.parent / path).is_file()


def test_a_screen_taken_apart() -> None:
    red, grey = Style(color="red"), Style(color=Color.from_rgb(9, 9, 9), bgcolor=Color.from_rgb(7, 7, 7))
    strips = [Strip([Segment("a  b", red), Segment("▀▀", grey)]), Strip([Segment(" ⠁ ", red), Segment("cde", red)])]
    screen = drawn(strips)
    boxes = boxes_by_colour(screen)
    assert boxes[9, 9, 9] == [(4 * WIDE, 0, 2 * WIDE, HIGH // 2)]
    assert boxes[7, 7, 7] == [(4 * WIDE, HIGH // 2, 2 * WIDE, HIGH // 2)]
    assert [(left // WIDE, top // HIGH) for left, top, _, _ in boxes[205, 0, 0]] == [(1, 1)]  # Braille dot 1
    root = ElementTree.fromstring(svg(screen, "a screen"))
    words = [(one.text, one.get("x"), one.get("textLength")) for one in root.iter(f"{_SVG}text")]
    assert words == [("a", "0", "10"), ("b", "30", "10"), ("cde", "30", "30")]
