"""Tests of the faces of a frame, compared with plain loops over small lists."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from inspector.formats.frame import Corners

FACES = st.lists(st.lists(st.booleans(), max_size=5), max_size=8)


@given(FACES)
def test_the_faces_with_a_flag(faces: list[list[bool]]) -> None:
    offsets = np.cumsum([0, *map(len, faces)])
    none = np.zeros(int(offsets[-1]), np.int32)
    flags = np.array([flag for face in faces for flag in face], bool)
    found = Corners(offsets, none, none, none).faces_with(flags)
    assert found.tolist() == [at for at, face in enumerate(faces) if any(face)]
