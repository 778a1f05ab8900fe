"""Tests of hostile names on every screen."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from inspector.sequence.discovery.settings import Settings
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import ASCII, UNICODE, Glyphs
from tests.helpers.command import harmful
from tests.helpers.meshes import wing
from tests.helpers.tui.screens import SMALL, press, screen_text

# Clear the screen, set the window's title, 8-bit CSI, right-to-left override, markup of the screen library, an
# undecodable byte, and a line ending. Each of these once reached a terminal, crashed an app or hid text.
EVIL = b"\x1b[2J\x1b]0;x\x07\xc2\x9b31m\xe2\x80\xae[red]\xff\n"

PICTURES = ("v", "l", "4", "full_stop", "n", "U", "M", "escape", "b", "q", "q")
WALK = (
    "n",
    "n",
    "d",
    "enter",
    "escape",
    "e",
    "p",
    "escape",
    "tab",
    "down",
    "w",
    "ctrl+c",
    "question_mark",
    "escape",
    *PICTURES,
)


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    root = tmp_path / os.fsdecode(b"shot" + EVIL)
    root.mkdir()
    evil_line = EVIL.replace(b"\n", b"[/x]")
    for number, digits in ((1, b"0001"), (2, b"0002"), (3, b"0003"), (5, b"0005"), (5, b"5"), (6, b"0006")):
        lines = wing(number).text()
        head = b"mtllib " + evil_line + b".mtl\no " + evil_line + b"\n"
        data = head + lines.replace(b"\nf ", b"\nusemtl " + evil_line + b"\nf ", 1)
        if number == 6:
            data = data.replace(b"v ", b"v " + evil_line, 1)
        (root / os.fsdecode(b"manta" + EVIL + b"." + digits + b".obj")).write_bytes(data)
    return root


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["utf-8", "ascii"])
async def test_no_name_acts_on_the_screen(hostile: Path, glyphs: Glyphs) -> None:
    app = MeshqcApp(hostile, Settings(), glyphs)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert app.session.views
        assert app.session.view is not None
        assert app.session.view.findings
        for key in WALK:
            await press(pilot, key)
            text = screen_text(app)
            assert not harmful(text), key
            assert key != "w" or "to > " in text
            assert not glyphs.ascii or text.isascii(), key
