"""Tests of the worked examples in the format document.

The texts are from memory: the OBJ format document ("Appendix B1", version 3.0), section "Examples", and a material from
the MTL document ("File Formats 4.2", 1995). Measures were calculated by hand and by trimesh (process=False).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest
import trimesh

from inspector.formats.frame import ABSENT, Frame
from inspector.formats.wavefront.reader import read_frame

SQUARE = b"""\
v 0.000000 2.000000 0.000000
v 0.000000 0.000000 0.000000
v 2.000000 0.000000 0.000000
v 2.000000 2.000000 0.000000
f 1 2 3 4
"""

CUBE_VERTICES = b"""\
v 0.000000 2.000000 2.000000
v 0.000000 0.000000 2.000000
v 2.000000 0.000000 2.000000
v 2.000000 2.000000 2.000000
v 0.000000 2.000000 0.000000
v 0.000000 0.000000 0.000000
v 2.000000 0.000000 0.000000
v 2.000000 2.000000 0.000000
"""
SIDES = (b"f 1 2 3 4\n", b"f 8 7 6 5\n", b"f 4 3 7 8\n", b"f 5 1 4 8\n", b"f 5 6 2 1\n", b"f 2 6 7 3\n")
CUBE = CUBE_VERTICES + b"".join(SIDES)

# The same cube; the four vertices of each side are just above its face.
CUBE_NEGATIVE = b"""\
v 0.000000 2.000000 2.000000
v 0.000000 0.000000 2.000000
v 2.000000 0.000000 2.000000
v 2.000000 2.000000 2.000000
f -4 -3 -2 -1

v 2.000000 2.000000 0.000000
v 2.000000 0.000000 0.000000
v 0.000000 0.000000 0.000000
v 0.000000 2.000000 0.000000
f -4 -3 -2 -1

v 2.000000 2.000000 2.000000
v 2.000000 0.000000 2.000000
v 2.000000 0.000000 0.000000
v 2.000000 2.000000 0.000000
f -4 -3 -2 -1

v 0.000000 2.000000 0.000000
v 0.000000 2.000000 2.000000
v 2.000000 2.000000 2.000000
v 2.000000 2.000000 0.000000
f -4 -3 -2 -1

v 0.000000 2.000000 0.000000
v 0.000000 0.000000 0.000000
v 0.000000 0.000000 2.000000
v 0.000000 2.000000 2.000000
f -4 -3 -2 -1

v 0.000000 0.000000 2.000000
v 0.000000 0.000000 0.000000
v 2.000000 0.000000 0.000000
v 2.000000 0.000000 2.000000
f -4 -3 -2 -1
"""

GROUPS = ("front", "back", "right", "top", "left", "bottom")
CUBE_GROUPS = CUBE_VERTICES + b"".join(
    b"g %s cube\n" % name.encode() + side for name, side in zip(GROUPS, SIDES, strict=True)
)

MATERIALS = ("red", "blue", "green", "gold", "orange", "purple")
CUBE_MATERIALS = (
    b"mtllib master.mtl\n\n"
    + CUBE_VERTICES
    + b"# 8 vertices\n\n"
    + b"".join(
        b"g %s\nusemtl %s\n" % (group.encode(), material.encode()) + side
        for group, material, side in zip(GROUPS, MATERIALS, SIDES, strict=True)
    )
    + b"# 6 elements\n"
)

TWO_SQUARES_VERTICES = b"""\
v 0.000000 2.000000 0.000000
v 0.000000 0.000000 0.000000
v 2.000000 0.000000 0.000000
v 2.000000 2.000000 0.000000
v 4.000000 0.000000 -1.255298
v 4.000000 2.000000 -1.255298
"""
TWO_SQUARES_SMOOTH = TWO_SQUARES_VERTICES + b"# 6 vertices\n\ng all\ns 1\nf 1 2 3 4\nf 4 3 5 6\n# 2 elements\n"
TWO_SQUARES_NORMALS = (
    TWO_SQUARES_VERTICES
    + b"""\
vn 0.000000 0.000000 1.000000
vn 0.000000 0.000000 1.000000
vn 0.276597 0.000000 0.960986
vn 0.276597 0.000000 0.960986
vn 0.531611 0.000000 0.846988
vn 0.531611 0.000000 0.846988
# 6 vertices

# 6 normals

g all
s 1
f 1//1 2//2 3//3 4//4
f 4//4 3//3 5//5 6//6
# 2 elements
"""
)

TEXTURED_SQUARE = b"""\
mtllib master.mtl

v 0.000000 2.000000 0.000000
v 0.000000 0.000000 0.000000
v 2.000000 0.000000 0.000000
v 2.000000 2.000000 0.000000
vt 0.000000 1.000000 0.000000
vt 0.000000 0.000000 0.000000
vt 1.000000 0.000000 0.000000
vt 1.000000 1.000000 0.000000
# 4 vertices

usemtl wood
f 1/1 2/2 3/3 4/4
# 1 element
"""


@dataclass(frozen=True)
class Example:
    """An example from the format document, and its measures.

    Attributes:
        text: The text of the file.
        counts: Numbers of v, vt and vn lines, of faces, and of corners.
        area: Area of the surface.
        edges: Numbers of edges and of boundary edges.
        volume: Volume of the solid. None for an open surface.
    """

    text: bytes
    counts: tuple[int, int, int, int, int]
    area: float
    edges: tuple[int, int]
    volume: float | None = None


# The second square is 2 by sqrt(4 + 1.255298^2) = 2.361316; 4 + 2 * 2.361316 = 8.722632.
TWO_AREA = 4 + 2 * np.hypot(2, 1.255298)

EXAMPLES = {
    "square": Example(SQUARE, (4, 0, 0, 1, 4), 4.0, (4, 4)),
    "cube": Example(CUBE, (8, 0, 0, 6, 24), 24.0, (12, 0), 8.0),
    "cube, negative references": Example(CUBE_NEGATIVE, (24, 0, 0, 6, 24), 24.0, (24, 24), 8.0),
    "cube with groups": Example(CUBE_GROUPS, (8, 0, 0, 6, 24), 24.0, (12, 0), 8.0),
    "cube with materials": Example(CUBE_MATERIALS, (8, 0, 0, 6, 24), 24.0, (12, 0), 8.0),
    "two squares, smoothing": Example(TWO_SQUARES_SMOOTH, (6, 0, 0, 2, 8), TWO_AREA, (7, 6)),
    "two squares with normals": Example(TWO_SQUARES_NORMALS, (6, 0, 6, 2, 8), TWO_AREA, (7, 6)),
    "textured square": Example(TEXTURED_SQUARE, (4, 4, 0, 1, 4), 4.0, (4, 4)),
}


def triangles(frame: Frame) -> np.ndarray:
    """Return the triangles of all faces. The faces are convex and planar, so they are split into fans."""
    v, offsets = frame.corners.v, frame.corners.offsets
    return np.array(
        [
            (v[start], v[corner], v[corner + 1])
            for start, stop in pairwise(offsets)
            for corner in range(start + 1, stop - 1)
        ]
    )


def polygon_edges(frame: Frame) -> tuple[int, int]:
    v, offsets = frame.corners.v, frame.corners.offsets
    sides = [
        tuple(sorted(side))
        for start, stop in pairwise(offsets)
        for side in zip(v[start:stop], np.roll(v[start:stop], -1), strict=True)
    ]
    return len(set(sides)), sum(sides.count(side) == 1 for side in set(sides))


@pytest.mark.parametrize("name", EXAMPLES)
def test_counts_areas_and_volumes(name: str) -> None:
    example, frame = EXAMPLES[name], read_frame(EXAMPLES[name].text)
    corners = frame.corners
    found = (len(frame.positions), len(frame.uvs), len(frame.normals), frame.faces, len(corners.v))
    assert found == example.counts
    assert {problem.kind for problem in frame.problems} <= {"relative-index"}
    mesh = trimesh.Trimesh(frame.positions, triangles(frame), process=False)
    assert mesh.area == pytest.approx(example.area, abs=1e-12)
    assert polygon_edges(frame) == example.edges
    assert mesh.is_watertight == (example.edges[1] == 0)
    if example.volume is not None:
        assert mesh.volume == pytest.approx(example.volume, abs=1e-12)  # positive: the sides face outward


def test_the_square_faces_the_viewer_and_spans_two() -> None:
    frame = read_frame(SQUARE)
    assert frame.box is not None
    assert frame.box.tolist() == [[0, 0, 0], [2, 2, 0]]
    a, b, c, _ = frame.positions[frame.corners.v]
    assert np.cross(b - a, c - a).tolist() == [0, 0, 4]


def test_negative_references_are_counted_back_from_each_face() -> None:
    frame = read_frame(CUBE_NEGATIVE)
    assert frame.corners.v.tolist() == list(range(24))
    assert len(np.unique(frame.positions, axis=0)) == 8
    (problem,) = frame.problems
    assert (problem.kind, problem.count) == ("relative-index", 24)
    assert problem.places[0].line == 5


def test_groups_are_kept_as_the_line_names_them() -> None:
    frame = read_frame(CUBE_GROUPS)
    assert [run.group.display for run in frame.runs if run.group] == [f"{name} cube" for name in GROUPS]
    assert [(run.start, run.stop) for run in frame.runs] == [(face, face + 1) for face in range(6)]


def test_each_side_has_its_material() -> None:
    frame = read_frame(CUBE_MATERIALS)
    assert [name.display for name in frame.materials] == list(MATERIALS)
    assert [run.material.display for run in frame.runs if run.material] == list(MATERIALS)
    assert [(library.name.display, library.line) for library in frame.libraries] == [("master.mtl", 1)]


def test_smoothing_and_group_hold_for_both_squares() -> None:
    (run,) = read_frame(TWO_SQUARES_SMOOTH).runs
    assert (run.start, run.stop) == (0, 2)
    assert run.smoothing is not None
    assert run.group is not None
    assert (run.smoothing.display, run.group.display) == ("1", "all")


def test_normals_are_named_corner_by_corner() -> None:
    frame = read_frame(TWO_SQUARES_NORMALS)
    assert frame.corners.vn.tolist() == [0, 1, 2, 3, 3, 2, 4, 5]
    assert (frame.corners.vt == ABSENT).all()
    # The normal of the second square: its side vectors are (2, 0, -1.255298) and (0, 2, 0).
    across, up = np.array([2, 0, -1.255298]), np.array([0, 2.0, 0])
    direction = np.cross(across, up) / np.linalg.norm(np.cross(across, up))
    assert frame.normals[4] == pytest.approx(direction, abs=2e-3)
    # Along the common edge, the normal is the mean of both squares' normals, scaled to length 1.
    mean = direction + np.array([0, 0, 1])
    assert frame.normals[2] == pytest.approx(mean / np.linalg.norm(mean), abs=2e-3)


def test_the_texture_origin_is_bottom_left() -> None:
    frame = read_frame(TEXTURED_SQUARE)
    at = {tuple(frame.positions[v, :2]): tuple(frame.uvs[vt, :2]) for v, vt in zip(*corner_pairs(frame), strict=True)}
    assert at == {(0, 2): (0, 1), (0, 0): (0, 0), (2, 0): (1, 0), (2, 2): (1, 1)}
    assert [name.display for name in frame.materials] == ["wood"]


def corner_pairs(frame: Frame) -> tuple[list[int], list[int]]:
    return frame.corners.v.tolist(), frame.corners.vt.tolist()
