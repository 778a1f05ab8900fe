"""Tests of the digest of a set of faces. The digest does not depend on the order of the faces. Reference: a multiset of
the faces (collections.Counter)."""

from __future__ import annotations

from collections import Counter

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from inspector.formats.frame import ABSENT, Corners
from inspector.surface.face_set import face_set

FACES = st.lists(st.lists(st.integers(0, 9), min_size=0, max_size=5), max_size=8)


def corners(faces: list[list[int]]) -> Corners:
    offsets = np.cumsum([0, *map(len, faces)])
    v = np.array([vertex for face in faces for vertex in face], np.int64)
    none = np.full(len(v), ABSENT)
    return Corners(offsets, v, none, none)


@given(FACES, FACES, st.randoms())
def test_equal_for_the_same_faces_alone(one: list[list[int]], other: list[list[int]], random: object) -> None:
    same = Counter(map(tuple, one)) == Counter(map(tuple, other))
    assert (face_set(corners(one)) == face_set(corners(other))) is same
    shuffled = list(one)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert face_set(corners(shuffled)) == face_set(corners(one))


def test_a_turned_face_is_another() -> None:
    """A quad that starts at the next corner is split along its other diagonal, so it counts as a different face."""
    assert face_set(corners([[0, 1, 2, 3]])) != face_set(corners([[1, 2, 3, 0]]))
    assert face_set(corners([[0, 1, 2], [3]])) != face_set(corners([[0, 1], [2, 3]]))


def test_narrow_indices_count_as_wide_ones() -> None:
    wide = corners([[0, 1, 2], [2, 1, 3]])
    narrow = Corners(wide.offsets, wide.v.astype(np.int32), wide.vt, wide.vn)
    assert face_set(narrow) == face_set(wide)
