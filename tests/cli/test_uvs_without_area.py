"""Tests of every command with UVs that are all at one point or on one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.__main__ import main
from tests.helpers.quads import WITHOUT_AREA, flat_frames
from tests.helpers.sequences import write


@pytest.mark.parametrize("uvs", WITHOUT_AREA)
def test_every_command_goes_on(uvs: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write(tmp_path / "in", flat_frames(uvs))
    flat = uvs != "one material"
    for words, code in (
        (["check", str(folder)], 1),
        (["check", str(folder), "--format", "html"], 1),
        (["check", str(folder), "--format", "json"], 1),
        (["watch", str(folder), "--until", "4", "--fail-on", "never"], 0),
        (["fit", str(folder)], 2 if flat else 0),
        (["picture", str(folder), "--output", str(tmp_path / "one.png"), "--picture", "64x36"], 0),
        (["template", str(folder), "--output", str(tmp_path / "skin.svg"), "--density", "40"], 2 if flat else 0),
    ):
        got = main(words)
        printed = capsys.readouterr()
        assert "an internal error in meshqc" not in printed.out + printed.err, words
        assert got in (code, 0 if words[0] == "check" else code), (words, printed.err)
        if flat and words[0] in ("fit", "template"):
            assert "the UVs have no area" in printed.err
