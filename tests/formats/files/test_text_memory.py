"""Tests of the memory that text formats need."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest

from inspector import _native
from inspector.formats.files import off, ply, stl
from inspector.formats.mesh import Mesh, Part, corners_of
from inspector.formats.number_lines import read_lines
from inspector.formats.wavefront.compose import compose
from inspector.formats.wavefront.reader import read_frame
from tests.formats.files.test_stl_off import facets
from tests.helpers.gltf import nowhere

SIDE = 250
POINTS = np.round(np.random.default_rng(7).normal(size=(SIDE * SIDE, 3)), 6)
FACES = np.random.default_rng(8).integers(0, len(POINTS), (2 * len(POINTS), 3))
ROWS = "".join(f"{x:.6f} {y:.6f} {z:.6f}\n" for x, y, z in POINTS.tolist())
SIDES = "".join(f"3 {a} {b} {c}\n" for a, b, c in FACES.tolist())
PLY = (
    f"ply\nformat ascii 1.0\nelement vertex {len(POINTS)}\nproperty double x\nproperty double y\nproperty double z\n"
    f"element face {len(FACES)}\nproperty list uchar int vertex_indices\nend_header\n{ROWS}{SIDES}"
).encode()
OFF = f"OFF\n{len(POINTS)} {len(FACES)} 0\n{ROWS}{SIDES}".encode()
MODULES = {"ply": (ply.read, PLY), "off": (off.read, OFF), "stl": (stl.read, facets(POINTS[FACES[: len(POINTS)]]))}


def _peak(make: Callable[[], object]) -> tuple[object, int]:
    tracemalloc.start()
    try:
        made = make()
        return made, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def _size(mesh: Mesh) -> int:
    corners = mesh.corners
    return sum(one.nbytes for one in (mesh.positions, corners.offsets, corners.v, corners.vt, corners.vn))


@pytest.mark.parametrize("native", [True, False])
@pytest.mark.parametrize("name", MODULES)
def test_reading_text_holds_little_more_than_the_arrays(
    name: str, native: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    # All words of the text as Python objects would take ten times as much memory as the arrays.
    monkeypatch.setattr("inspector._native.active", native and _native.active)
    monkeypatch.setattr("inspector.formats.number_lines.PIECE", 1 << 16)
    monkeypatch.setattr("inspector.formats.files.stl.PIECE", 1 << 16)
    read, data = MODULES[name]
    mesh, peak = _peak(lambda: read(data, nowhere))
    assert isinstance(mesh, Mesh)
    assert peak < 2.5 * _size(mesh) + 4_000_000
    if name != "stl":
        np.testing.assert_array_equal(mesh.positions, POINTS)
        np.testing.assert_array_equal(mesh.corners.v.reshape(-1, 3), FACES)


class _Slices:
    def __init__(self, data: bytes) -> None:
        self._data = data

    def __len__(self) -> int:
        return len(self._data)

    def __getitem__(self, part: slice, /) -> bytes:
        return self._data[part] if part != slice(None) else pytest.fail("the whole file")


def test_stl_text_is_never_held_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.formats.files.stl.PIECE", 1 << 16)
    _, data = MODULES["stl"]
    mesh, peak = _peak(lambda: stl.read(_Slices(data), nowhere))
    assert isinstance(mesh, Mesh)
    assert peak < 1.5 * _size(mesh) + 1_000_000 < len(data)


def test_writing_obj_text_holds_little_more_than_the_text(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.formats.wavefront.compose.TOGETHER", 1 << 12)
    values = np.concatenate([POINTS, POINTS[::7] / 3])  # most have six decimals, the others need all digits
    corners = corners_of(np.arange(0, FACES.size + 1, 3), FACES.reshape(-1))
    mesh = Mesh(values, corners, parts=(Part(0, len(FACES)),))
    text, peak = _peak(lambda: compose(mesh))
    assert isinstance(text, bytes)
    assert peak < 1.6 * len(text) + 4_000_000
    frame = read_frame(text)
    np.testing.assert_array_equal(frame.positions, values)
    np.testing.assert_array_equal(frame.corners.v.reshape(-1, 3), FACES)


@pytest.mark.parametrize("native", [True, False])
@pytest.mark.parametrize("size", [1 << 4, 1 << 6, 1 << 20])
def test_lines_are_read_across_pieces(size: int, native: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector._native.active", native and _native.active)
    monkeypatch.setattr("inspector.formats.number_lines.PIECE", size)
    text = b"head\n" + b"".join(b"%d %d.5\n" % (row, row) for row in range(40)) + b"tail\n"
    read = read_lines(text, 5, 40)
    assert read is not None
    assert (read[0] == np.arange(40.0)[:, None] + [0, 0.5]).all()
    assert text[read[1] :] == b"tail\n"
    assert read_lines(text, 5, 41) is None, "a word"
    assert read_lines(text[:-5], 5, 41) is None, "too few lines"
    without_end = read_lines(text[5:-6], 0, 40)
    assert without_end is not None
    assert len(without_end[0]) == 40


@pytest.mark.parametrize(
    "text", [b"1 2\n3\n", b"1 2\n\n3 4\n", b"1 2\n3 x\n", b"1 2\n3 nan\n", b"1 2\n3 4 # x\n", b"1 2\r3 4\r", b"\n1 2\n"]
)
def test_lines_of_another_form_are_left_to_others(text: bytes) -> None:
    assert read_lines(text, 0, 2) is None


@pytest.mark.parametrize("name", ["ply", "off"])
@pytest.mark.parametrize("odd", [b"\n\n", b"  \n\n", b"\n \n"], ids=repr)
def test_lines_of_any_layout_give_the_same(name: str, odd: bytes) -> None:
    read, data = MODULES[name]
    head, _, rest = data.partition(b"end_header\n" if name == "ply" else b" 0\n")
    short = rest.split(b"\n", 3)[:3]
    text = head.replace(b"%d" % len(POINTS), b"3").replace(b"%d" % len(FACES), b"2")
    text += (b"end_header\n" if name == "ply" else b" 0\n") + b"\n".join([*short, b"3 0 1 2", b"3 2 1 0", b""])
    plain, other = read(text, nowhere), read(text.replace(b"\n3 2", odd + b"3 2"), nowhere)
    assert np.array_equal(plain.positions, other.positions)
    assert np.array_equal(plain.corners.v, other.corners.v)
