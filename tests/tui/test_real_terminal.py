"""Tests of all steps in a real terminal, with the keyboard only."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import time
from pathlib import Path

import pytest

from tests.helpers.command import digests
from tests.helpers.tui.real_terminal import PATIENCE, Terminal, terminal

__all__ = ["terminal"]

pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")


def test_open_find_fix_write_verify(terminal: Terminal, demo: Path, tmp_path: Path) -> None:
    source, out = demo / "manta_broken", tmp_path / "corrected"
    before = digests(source)
    terminal.open(source)
    terminal.wait_for("E 15 errors")
    terminal.press("n", "n", "n", "n", "n")
    terminal.wait_for("1 [ ] Shift UV indices back")
    terminal.press("1")
    terminal.wait_for("1 [x] Shift UV indices back")
    terminal.press("e")
    terminal.wait_for("steps staged")
    terminal.press("w")
    terminal.wait_for("manta_broken_fixed")
    terminal.press("C-u", str(out), "Enter")
    result = terminal.wait_for("written and verified")
    assert "running the plan again would change nothing" in result
    terminal.press("q")
    terminal.wait_for("steps written")
    terminal.press("q")
    terminal.wait_for("exit code 0")
    assert digests(source) == before
    assert {"HANDOFF.txt", "SHA256SUMS", "meshqc-receipt.json"} <= {path.name for path in out.iterdir()}
    for line in (out / "SHA256SUMS").read_text().splitlines():
        digest, name = line.split("  ", 1)  # the format of sha256sum -c, GNU coreutils manual
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest


def test_look_play_and_come_back(terminal: Terminal, demo: Path) -> None:
    """Only a real terminal can misinterpret keys such as Shift+Left."""
    terminal.open(demo / "manta")
    terminal.wait_for("nothing found")
    terminal.press("v")
    first = terminal.wait_for("▄")
    terminal.press("S-Left")
    terminal.wait_for_change(first)
    terminal.press("S", "2", "Space")
    terminal.wait_for("playing at 8 fps")
    terminal.wait_for("frame 5 ")
    terminal.press("Space", "U")
    terminal.wait_for("2 islands; no mirrored faces; no overlap")
    terminal.press("q", "q")
    terminal.wait_for("e fix")
    terminal.press("q")
    terminal.wait_for("exit code 0")


def test_keys_that_come_in_one_piece_are_done_in_their_order(terminal: Terminal, demo: Path) -> None:
    terminal.open(demo / "manta")
    terminal.wait_for("nothing found")
    terminal.press("#", "8", "Enter", "d", "2", "+")
    screen = terminal.wait_for("centre by axis")
    assert "frame 8 " in screen
    terminal.wait_for("frames 5-16")
    terminal.press("q")
    terminal.wait_for("─ frame 8 ─")
    terminal.press("q")
    terminal.wait_for("exit code 0")


def test_worker_processes_read_behind_the_screen_and_go_with_it(terminal: Terminal, demo: Path) -> None:
    terminal.open(demo / "manta", inline=0)
    terminal.wait_for("nothing found")
    assert terminal.pythons()
    terminal.press("q")
    terminal.wait_for("exit code 0")
    end = time.monotonic() + PATIENCE
    while left := [row for row in terminal.pythons() if "exec sleep" not in row]:
        assert time.monotonic() < end, left
        time.sleep(0.05)


@pytest.mark.parametrize(("signal", "code"), [("TERM", 143), ("HUP", 129)])
def test_a_signal_leaves_a_clean_terminal(terminal: Terminal, demo: Path, signal: str, code: int) -> None:
    terminal.open(demo / "manta")
    terminal.wait_for("nothing found")
    assert terminal.tmux("display-message", "-p", "#{alternate_on}").strip() == "1"
    shell = terminal.tmux("display-message", "-p", "#{pane_pid}").strip()
    subprocess.run(["pkill", f"-{signal}", "-P", shell], check=True, timeout=120)
    terminal.wait_for(f"exit code {code}")
    assert terminal.tmux("display-message", "-p", "#{alternate_on}").strip() == "0"
    assert terminal.tmux("display-message", "-p", "#{cursor_flag}").strip() == "1"
