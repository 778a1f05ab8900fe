"""Tests of meshes."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Mesh, Part, corners_of, of_vertices

POSITIONS = np.array([(0.0, 0, 0), (1, 0, 0), (0, 1, 0)])
CORNERS = corners_of(np.array([0, 3, 6, 9]), np.array([0, 1, 2] * 3))  # three faces


@pytest.mark.parametrize("parts", [(Part(0, 3),), (Part(0, 1), Part(1, 3)), (Part(0, 2), Part(2, 2), Part(2, 3))])
def test_parts_that_cover_all_faces(parts: tuple[Part, ...]) -> None:
    assert Mesh(POSITIONS, CORNERS, parts=parts).parts == parts


@pytest.mark.parametrize(
    "parts", [(), (Part(0, 2),), (Part(1, 3),), (Part(0, 1), Part(2, 3)), (Part(0, 2), Part(1, 3)), (Part(0, 4),)]
)
def test_parts_that_leave_faces_out(parts: tuple[Part, ...]) -> None:
    """Writers would silently lose a face that is in no part."""
    with pytest.raises(ValueError, match="don't cover all faces"):
        Mesh(POSITIONS, CORNERS, parts=parts)


THREE = [[1.0], [2.0], [3.0]]


@pytest.mark.parametrize(
    ("values", "slot", "v", "rows"),
    [
        (THREE, [0, 1, 2], [0, 1, 2], THREE),
        (THREE, [0, 2], [0, 2], THREE),  # a value that no face uses is kept
        (THREE, [], [], THREE),
        (THREE, [2, 1, 0, 1], [0, 1, 2, 1], [[3.0], [2.0], [1.0]]),
        (THREE, [2, 1], [0, 1], [[3.0], [2.0], [0.0]]),
        (THREE, [0, 1, 2], [0, 1, 1], None),  # a vertex with two values
        (THREE, [0, 1, ABSENT], [0, 1, 2], None),
        (THREE, [0, 1, 2], [0, 1, ABSENT], None),
        (THREE, [2, 1, ABSENT], [0, ABSENT, 1], None),
        (THREE, [ABSENT, 1, 2], [ABSENT, 1, 2], THREE),  # a corner with neither index has nothing to lose
        (THREE, [ABSENT, 0, 1], [ABSENT, 1, 2], [[0.0], [1.0], [2.0]]),
        ([[5.0]], [0, 0, ABSENT], [0, 1, ABSENT], [[5.0], [5.0], [0.0]]),
        ([[5.0]], [ABSENT], [ABSENT], None),
        ([], [], [], None),
        ([], [ABSENT], [0], None),
        ([], [0, 1], [0, 1], None),
    ],
)
def test_values_of_vertices(
    values: list[list[float]], slot: list[int], v: list[int], rows: list[list[float]] | None
) -> None:
    found = of_vertices(np.array(values).reshape(-1, 1), np.array(slot, dtype=np.int32), np.array(v, dtype=np.int32), 3)
    assert (None if found is None else found.tolist()) == rows
