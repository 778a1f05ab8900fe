"""Over a slow link playing leaves pictures out, and keys are answered behind no more than what is under way."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.tui.slow_terminal import SlowTerminal

RATE = 5_000.0  # bytes a second
_UNDER_WAY = 16_000
"""Bytes: a picture on its way, the answer to the key, and a whole new screen, 7 KB each at most (measured)."""

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
    terminal.until("playing 24 fps")
    first = terminal.rows
    terminal.wait(5.0)
    assert terminal.rows[1:20] != first[1:20]  # it plays
    shown = int(terminal.rows[0].rsplit(", ", 1)[1].split()[0])
    assert shown <= 4
    assert terminal.answer(" ", "playing", gone=True) < _UNDER_WAY
    assert terminal.answer("?", "this screen") < _UNDER_WAY
    assert terminal.answer("q", "arrows turn") < _UNDER_WAY
    terminal.answer(" ", "playing 24 fps")
    terminal.wait(2.0)
    assert terminal.answer("q", "e fix") < _UNDER_WAY
    terminal.press("q")
    assert terminal.end() == 0
