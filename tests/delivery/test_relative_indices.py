"""Tests of fixes that add or remove `v`, `vt` or `vn` lines before faces with relative indices."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed
from tests.helpers.sequences import Files
from tests.helpers.surfaces import lit, sequence
from tests.helpers.uvs import all_laid, moved

_CORNER = re.compile(rb"\d+(?:/\d*)*")


def counted_back(text: bytes) -> bytes:
    """Return the file with relative indices. The last row before a face has the index -1 (OBJ specification, B1)."""
    rows = {b"v": 0, b"vt": 0, b"vn": 0}
    lines = []
    for line in text.splitlines(keepends=True):
        keyword, _, rest = line.partition(b" ")
        if keyword in rows:
            rows[keyword] += 1
        if keyword == b"f":
            counts = tuple(rows.values())

            def back(corner: re.Match[bytes], counts: tuple[int, ...] = counts) -> bytes:
                parts = corner[0].split(b"/")
                return b"/".join(
                    b"%d" % (int(part) - count - 1) if part else b"" for part, count in zip(parts, counts, strict=False)
                )

            lines.append(keyword + b" " + _CORNER.sub(back, rest))
        else:
            lines.append(line)
    return b"".join(lines)


def all_counted_back(files: Files) -> Files:
    return {name: counted_back(data) if name.endswith(".obj") else data for name, data in files.items()}


SHINING = sequence(lit)
CASES: dict[str, tuple[Files, Mapping[str, object]]] = {
    "unit-normals": (sequence(lambda n: lit(n).edit(normals=lit(n).normals * 2)), {}),
    "flip-normals": (sequence(lambda n: lit(n).edit(normals=-lit(n).normals)), {}),
    "up-axis": (SHINING, {"to": "z"}),
    "uv-turn": (SHINING, {"degrees": 90}),
    "uv-mirror": (SHINING, {"axis": "u"}),
    "uv-into-square": (all_laid(moved(0.25, 0)), {}),
}


@pytest.mark.parametrize("fix", CASES)
def test_faces_that_count_back_keep_their_corners(fix: str, tmp_path: Path) -> None:
    files, parameters = CASES[fix]
    result = fixed(tmp_path, all_counted_back(files), fix, parameters)
    plain = fixed(tmp_path / "plain", files, fix, parameters)
    assert result.delivery.proof.new == ()
    name = next(name for name in files if name.endswith(".obj"))
    ours, theirs, before = (read_frame(data) for data in (result.after[name], plain.after[name], files[name]))
    for array in ("v", "vt", "vn", "offsets"):
        assert np.array_equal(getattr(ours.corners, array), getattr(before.corners, array))
    assert np.array_equal(ours.normals, theirs.normals)
    assert np.array_equal(ours.uvs, theirs.uvs)
    assert np.array_equal(ours.positions, theirs.positions)
