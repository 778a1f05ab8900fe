"""Tests of harmful names of folders, files, libraries, materials and maps."""

from __future__ import annotations

import re
from pathlib import Path

import pyte
import pytest

from tests.helpers.command import digests, strict_json
from tests.helpers.hostile.evil_shots import EVIL, evil_shot
from tests.helpers.hostile.said import FORMATS, Said, assert_harmless, said  # noqa: F401
from tests.helpers.pseudo_terminal import Terminal
from tests.helpers.sequences import shot, write


@pytest.mark.parametrize("kind", EVIL)
def test_no_report_acts_on_a_name(kind: str, tmp_path: Path, said: Said) -> None:  # noqa: F811
    folder = evil_shot(tmp_path, EVIL[kind])
    for form in FORMATS:
        text = said("check", folder, "--no-cache", "--format", form)
        assert len(text) > 300
        assert_harmless(text, form)
    assert_harmless(said("fix", folder, "--output", tmp_path / "out", "--dry-run", "--all", "--no-cache"), "text")


@pytest.mark.parametrize("kind", EVIL)
def test_a_delivery_of_evil_names_is_told_and_proven(kind: str, tmp_path: Path, said: Said) -> None:  # noqa: F811
    folder = evil_shot(tmp_path, EVIL[kind])
    before = digests(folder)
    assert_harmless(said("fix", folder, "--output", tmp_path / "out", "--with", "scale:factor=2", "--no-cache"), "text")
    assert digests(folder) == before
    assert_harmless(said("verify", tmp_path / "out"), "text")
    assert_harmless(said("compare", folder, "--corrected", tmp_path / "out"), "text")
    assert_harmless((tmp_path / "out" / "HANDOFF.txt").read_text(), "text")


def test_names_as_long_as_the_system_allows(tmp_path: Path, said: Said) -> None:  # noqa: F811
    """Common file systems allow names of at most 255 bytes (POSIX, NAME_MAX)."""
    stem = "m" * (255 - len(".0001.obj"))
    write(tmp_path / "in", {path.replace("manta.0", f"{stem}.0"): data for path, data in shot().items()})
    assert strict_json(said("check", tmp_path / "in", "--json", "--no-cache"))["sequences"][0]["findings"] == []
    said("fix", tmp_path / "in", "--output", tmp_path / "out", "--with", "scale:factor=2", "--no-cache", codes=(0,))
    assert len([path for path in (tmp_path / "out").iterdir() if path.name.startswith(stem)]) == 12


@pytest.mark.parametrize("kind", EVIL)
def test_a_terminal_is_only_written_to_by_us(kind: str, tmp_path: Path) -> None:
    terminal = Terminal("check", evil_shot(tmp_path, EVIL[kind]), "--no-cache")
    assert terminal.end() == 1
    text = terminal.seen.decode("utf-8", "strict")
    rest = re.sub(r"\x1b\[[0-9;]*m|\x1b\[[02]?K|\r\n|\r", "", text)
    assert not re.search(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", rest)
    screen = pyte.HistoryScreen(80, 24, history=10_000)
    modes = set(screen.mode)
    pyte.ByteStream(screen).feed(terminal.seen)
    assert screen.title == ""
    assert set(screen.mode) == modes
    top = "".join(cell.data for cell in (screen.history.top[0][at] for at in range(80)))
    assert top.strip()
