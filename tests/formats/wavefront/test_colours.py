"""Tests of vertex colours, `v x y z r g b` (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.formats.mesh import Mesh, corners_of
from inspector.formats.wavefront.compose import compose
from inspector.formats.wavefront.decompose import mesh_of
from inspector.formats.wavefront.reader import ObjReader, read_frame
from inspector.formats.wavefront.writer import write_frame
from inspector.sequence.frame_difference import differences

FACE = b"f 1 2 3\n"
TEXT = b"v 0 0 0 1 0 .5\nv 1 0 0 0 1 0\n# .\nv 0 1 0 0 0 1\n" + FACE


def test_they_are_read_where_every_vertex_has_one() -> None:
    assert read_frame(TEXT).colours.tolist() == [[1, 0, 0.5], [0, 1, 0], [0, 0, 1]]


@pytest.mark.parametrize(
    "vertices",
    [
        b"v 0 0 0 1\n" * 3,
        b"v 0 0 0 1 0 0 1\n" * 3,
        b"v 0 0 0 1 0 0\nv 1 0 0\nv 0 1 0 0 0 1\n",
        b"v 0 0 0 1 0 nan\n" * 3,
    ],
    ids=["weights", "seven numbers", "some vertices", "a bad number"],
)
def test_nothing_else_is_taken_for_a_colour(vertices: bytes) -> None:
    assert read_frame(vertices + FACE).colours.shape == (0, 3)


def test_equal_colours_are_shared() -> None:
    reader = ObjReader()
    first, second = (reader.read(b"v %d 0 0 1 0 0\nv 1 0 0 0 1 0\nv 0 1 0 0 0 1\nf 1 2 3\n" % x) for x in (0, 5))
    assert second.positions is not first.positions
    assert second.colours is first.colours


def test_moved_vertices_keep_their_colours() -> None:
    frame = read_frame(TEXT)
    again = read_frame(write_frame(frame.replace(positions=frame.positions * 2.0)))
    assert again.positions.tolist() == [[0, 0, 0], [2, 0, 0], [0, 2, 0]]
    assert again.colours.tolist() == frame.colours.tolist()


def test_what_is_composed_reads_back() -> None:
    mesh = mesh_of(read_frame(TEXT))
    assert read_frame(compose(mesh)).colours.tolist() == mesh.colours.tolist()
    single = replace(mesh, positions=mesh.positions.astype(np.float32), colours=mesh.colours.astype(np.float32) / 3)
    again = read_frame(compose(single))
    assert np.array_equal(again.colours.astype(np.float32), single.colours)


def test_many_vertices_are_composed_with_theirs() -> None:
    values = np.random.default_rng(1).random((5000, 6))
    mesh = Mesh(
        values[:, :3].astype(np.float32),
        corners_of(np.zeros(1, np.int64), np.zeros(0, np.int64)),
        colours=values[:, 3:],
    )
    assert np.array_equal(read_frame(compose(mesh)).colours, values[:, 3:])


def test_a_difference_is_named() -> None:
    other = TEXT.replace(b"v 1 0 0 0 1 0", b"v 1 0 0 0 1 1")
    (found,) = (one for one in differences(read_frame(TEXT), read_frame(other)) if not one.same)
    assert (found.block, found.differing, found.element, found.line) == ("vertex colours", 1, 1, 2)
    bare = read_frame(b"v 0 0 0\nv 1 0 0\n# .\nv 0 1 0\n" + FACE)
    (found,) = (one for one in differences(read_frame(TEXT), bare) if not one.same)
    assert (found.block, found.counts) == ("vertex colours", (3, 0))
    assert "vertex colours" not in [one.block for one in differences(bare, bare)]
