"""Tests of the terminal UI over a slow link."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.hostile.keyboard import Keyboard
from tests.helpers.tui.slow_terminal import SlowTerminal

RATE = 5_000.0  # bytes per second
_UNDER_WAY = 16_000
"""Maximum number of bytes that arrive before the effect of a key is on the screen.

A picture or a screen that is still in transit takes up at most 7 KB (measured).
"""

HELD = (
    pytest.param(10_000_000, id="all, as a remote shell does"),
    pytest.param(256, id="next to nothing, as a serial line does", marks=pytest.mark.slow),
)


@pytest.fixture(params=HELD)
def terminal(request: pytest.FixtureRequest, demo: Path, tmp_path: Path) -> Iterator[SlowTerminal]:
    one = SlowTerminal(demo / "manta", tmp_path, held=request.param)
    yield one
    one.close()


def test_playing_leaves_pictures_out_and_keys_are_answered(terminal: SlowTerminal) -> None:
    terminal.until("nothing found")
    terminal.press("v")
    terminal.until("▄")
    terminal.wait(0.5)
    terminal.rate = RATE
    terminal.press(" ")
    terminal.until("playing at 24 fps")
    first = terminal.rows
    terminal.wait(5.0)
    assert terminal.rows[1:20] != first[1:20]  # the sequence plays
    shown = int(terminal.rows[0].rsplit(", ", 1)[1].split()[0])
    assert shown <= 4
    assert terminal.answer(" ", "playing", gone=True) < _UNDER_WAY
    assert terminal.answer("?", "this screen") < _UNDER_WAY
    assert terminal.answer("q", "arrows turn") < _UNDER_WAY
    terminal.answer(" ", "playing at 24 fps")
    terminal.wait(2.0)
    assert terminal.answer("q", "e fix") < _UNDER_WAY
    terminal.press("q")
    assert terminal.end() == 0


KEY_BYTES = 1_000
"""Maximum number of bytes that are sent after a key that only moves the cursor. At RATE, they take 0.2 s."""
PAGE_BYTES = 3_500
"""Maximum number of bytes that are sent after a key that changes most of a screen of 80 x 24 cells."""
DOWN, PAGE_DOWN = b"\x1b[B", b"\x1b[6~"


@pytest.mark.parametrize(
    ("folder", "first", "last"),
    [pytest.param("manta_broken", 3, 7, id="another finding and card"), pytest.param("manta", 1, 8, id="another row")],
)
def test_a_cursor_key_sends_the_cells_that_change(
    folder: str, first: int, last: int, demo: Path, tmp_path: Path
) -> None:
    with Keyboard(demo / folder, place=tmp_path) as terminal:
        terminal.until(f">     {first} ")
        terminal.until("reference")
        for frame in range(first + 1, last + 1):
            assert bytes_for(terminal, DOWN, f">     {frame} ") <= KEY_BYTES


def test_other_keys_send_less_than_a_page(demo: Path, tmp_path: Path) -> None:
    with Keyboard(demo / "manta_broken", place=tmp_path) as terminal:
        terminal.until(">     3 ")
        terminal.until("reference")
        assert bytes_for(terminal, b"1", "1 step staged") <= KEY_BYTES
        assert bytes_for(terminal, b"n", ">     4 ") <= KEY_BYTES
        assert bytes_for(terminal, PAGE_DOWN, ">    1") <= PAGE_BYTES
        assert bytes_for(terminal, b"?", "this screen") <= PAGE_BYTES
        assert bytes_for(terminal, b"q", "sorted by frame") <= PAGE_BYTES
        assert bytes_for(terminal, b"p", "plan: 1 step") <= PAGE_BYTES
        assert bytes_for(terminal, b"q", "sorted by frame") <= PAGE_BYTES


def bytes_for(terminal: Keyboard, key: bytes, words: str) -> int:
    terminal.settle()
    before = len(terminal.raw)
    terminal.press(key)
    terminal.until(words)
    terminal.settle()
    return len(terminal.raw) - before


def test_the_screen_is_sent_again_on_request(demo: Path, tmp_path: Path) -> None:
    """Another program may have written to the terminal."""
    with Keyboard(demo / "manta", place=tmp_path) as terminal:
        terminal.until("state the frame range")
        terminal.settle()
        shown = terminal.text()
        terminal.screen.erase_in_display(2)
        terminal.press(b"\x0c")  # ctrl+l
        terminal.until("state the frame range")
        terminal.settle()
        assert terminal.text() == shown
