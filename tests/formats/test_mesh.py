"""What a mesh refuses to be."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.formats.mesh import Mesh, Part, corners_of

POSITIONS = np.array([(0.0, 0, 0), (1, 0, 0), (0, 1, 0)])
CORNERS = corners_of(np.array([0, 3, 6, 9]), np.array([0, 1, 2] * 3))  # three faces


@pytest.mark.parametrize("parts", [(Part(0, 3),), (Part(0, 1), Part(1, 3)), (Part(0, 2), Part(2, 2), Part(2, 3))])
def test_parts_that_cover_all_faces(parts: tuple[Part, ...]) -> None:
    assert Mesh(POSITIONS, CORNERS, parts=parts).parts == parts


@pytest.mark.parametrize(
    "parts", [(), (Part(0, 2),), (Part(1, 3),), (Part(0, 1), Part(2, 3)), (Part(0, 2), Part(1, 3)), (Part(0, 4),)]
)
def test_parts_that_leave_faces_out(parts: tuple[Part, ...]) -> None:
    """Writers go through the parts: a face in none of them would be lost in silence."""
    with pytest.raises(ValueError, match="parts must cover all 3 faces"):
        Mesh(POSITIONS, CORNERS, parts=parts)
