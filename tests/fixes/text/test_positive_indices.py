"""Tests of `positive-indices`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import shot

NAME = "manta.0004.obj"


def relative(data: bytes) -> bytes:
    """Return the text with relative indices. Here, all vertices and UVs precede all faces. Source: OBJ format document,
    "Vertex"."""
    lists = [data.count(b"\n" + word) for word in (b"v ", b"vt ")]

    def back(match: re.Match[bytes]) -> bytes:
        return b"%d/%d" % tuple(int(match[slot + 1]) - count - 1 for slot, count in enumerate(lists))

    return re.sub(rb"(?<= )(\d+)/(\d+)", back, data)


def test_relative_indices_become_the_same_ones_from_one(tmp_path: Path) -> None:
    files = shot() | {NAME: relative(shot()[NAME])}
    assert b"f -20/-24 " in files[NAME]
    result = fixed(tmp_path, files, "positive-indices")
    assert result.after[NAME] == shot()[NAME]
    assert result.touched(NAME) == {b"f"}


def test_indices_from_zero_are_counted_up(tmp_path: Path) -> None:
    from_zero = {
        name: re.sub(rb"(?<= )(\d+)/(\d+)", lambda m: b"%d/%d" % (int(m[1]) - 1, int(m[2]) - 1), data)
        for name, data in shot().items()
    }
    result = fixed(tmp_path, from_zero, "positive-indices")
    for name, good in shot().items():
        assert result.after[name] == good
    assert "zero-based" in {finding.check for _, finding in result.delivery.proof.gone}
    assert result.delivery.proof.clean


def test_corners_without_an_index_get_none(tmp_path: Path) -> None:
    points = b"v 0 0 0\nv 1 0 0\nv 1 1 %d\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\n"
    faces = b"f 0/0 1/1 2/2\nf 0 2 3\nf 0/0 1/0 3/0\n"
    counted = b"f 1/1 2/2 3/3\nf 1 3 4\nf 1/1 2/1 4/1\n"
    result = fixed(tmp_path, {f"a.000{n}.obj": points % n + faces for n in (1, 2, 3)}, "positive-indices")
    assert all(result.after[f"a.000{n}.obj"] == points % n + counted for n in (1, 2, 3))


def test_a_single_uv_with_the_index_0_is_kept(tmp_path: Path) -> None:
    points = b"v 0 0 0\nv 1 0 0\nv 1 1 %d\nv 0 1 0\nvt 0 0\n"
    faces, counted = b"f 0/0 1/0 2/0\nf 0/0 2/0 3/0\n", b"f 1/1 2/1 3/1\nf 1/1 3/1 4/1\n"
    result = fixed(tmp_path, {f"a.000{n}.obj": points % n + faces for n in (1, 2, 3)}, "positive-indices")
    assert all(result.after[f"a.000{n}.obj"] == points % n + counted for n in (1, 2, 3))


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "already absolute and start at 1"),
        (
            shot() | {NAME: relative(shot()[NAME]).replace(b"f -20/", b"f -21/", 1)},
            "line .*; the intended index is unknown",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "positive-indices")
