"""Every command on UVs that all are at one point or on one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.__main__ import main
from tests.helpers.quads import UNIT, Quad, quad_frame

POINT, LINE = [(0.0, 0.0)] * 4, [(0.0, 0.5), (1.0, 0.5), (0.6, 0.5), (0.2, 0.5)]


def two_materials(first: Quad, second: Quad, number: int) -> bytes:
    lines = quad_frame([first, second], 0.1 * number).split(b"\n")
    at = [place for place, line in enumerate(lines) if line.startswith(b"f ")]
    lines.insert(at[1], b"usemtl fin")
    lines.insert(at[0], b"usemtl skin")
    return b"\n".join(lines)


@pytest.mark.parametrize("uvs", [(POINT, POINT), (LINE, LINE), (UNIT, POINT)], ids=["point", "line", "one material"])
def test_every_command_goes_on(
    uvs: tuple[list[tuple[float, float]], list[tuple[float, float]]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    for number in range(1, 5):
        frame = two_materials(Quad(uvs=uvs[0]), Quad(uvs=uvs[1]), number)
        (folder / f"buoy.{number:04d}.obj").write_bytes(frame)
    flat = uvs[0] is not UNIT
    for words, code in (
        (["check", str(folder)], 1),
        (["check", str(folder), "--format", "html"], 1),
        (["check", str(folder), "--format", "json"], 1),
        (["fit", str(folder)], 2 if flat else 0),
        (["picture", str(folder), "--output", str(tmp_path / "one.png"), "--picture", "64x36"], 0),
        (["template", str(folder), "--output", str(tmp_path / "skin.svg"), "--density", "40"], 2 if flat else 0),
    ):
        got = main(words)
        printed = capsys.readouterr()
        assert "a mistake in meshqc" not in printed.out + printed.err, words
        assert got in (code, 0 if words[0] == "check" else code), (words, printed.err)
        if flat and words[0] in ("fit", "template"):
            assert "the UVs have no area" in printed.err
