"""Tests of `concave-faces` and `non-planar-faces`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.meshes import Mesh, grid_faces, plain, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, frames, heard, look
from tests.helpers.surfaces import EVERY, drawn, sequence, with_face

SQUARE = [[5.0, 0, 0], [6, 0, 0], [6, 0, 1], [5, 0, 1]]
ARROW = [[5.0, 0, 0], [6, 0, 0], [5.3, 0, 0.3], [5, 0, 1]]
SADDLE = [[5.0, 0, 0], [6, 0.6, 0], [6, 0, 1], [5, 0.6, 1]]


def with_square(number: int) -> Mesh:
    return with_face(wing(number), SQUARE)


def test_concave_on_one_frame(tmp_path: Path) -> None:
    assert heard(look(tmp_path / "square", sequence(with_square))) == []
    said, inspection = broken(
        tmp_path, "concave-faces", sequence(lambda n: with_face(wing(n), drawn(SQUARE, ARROW, n)))
    )
    assert said == [("concave-faces", "warning", [5.0])]
    words = "1 face with a corner that points inward; the number differs by up to 1 between frames"
    assert finding_of(inspection, "concave-faces").message.startswith(words)
    assert finding_of(inspection, "concave-faces").where[0].element == "face 13"


def test_warped_on_one_frame(tmp_path: Path) -> None:
    said, inspection = broken(
        tmp_path, "non-planar-faces", sequence(lambda n: with_face(wing(n), drawn(SQUARE, SADDLE, n)))
    )
    assert said == [("non-planar-faces", "warning", [5.0])]
    assert finding_of(inspection, "non-planar-faces").message.startswith("1 face far from planar; ")
    assert finding_of(inspection, "non-planar-faces").where[0].element == "face 13"


def test_on_every_frame_it_is_a_note(tmp_path: Path) -> None:
    said = heard(look(tmp_path / "arrow", sequence(lambda n: with_face(wing(n), ARROW))))
    assert said == [("concave-faces", "note", EVERY)]
    said = heard(look(tmp_path / "saddle", sequence(lambda n: with_face(wing(n), SADDLE))))
    assert said == [("non-planar-faces", "note", EVERY)]


@pytest.mark.parametrize(("columns", "severity"), [(15, "warning"), (16, "note")])
def test_how_many_faces_may_flip(columns: int, severity: str, tmp_path: Path) -> None:
    """One flipped face is 1.01 % of 1 + 7 x 14 = 99 faces, and 0.94 % of 1 + 7 x 15 = 106 faces. Above 1 %
    (FLIP_SHARE), the finding is a warning."""
    x, z = np.meshgrid(np.arange(float(columns)), np.arange(8.0))
    sheet = np.stack([x.ravel(), 0.0 * x.ravel(), z.ravel()], axis=1)
    faces = [*grid_faces(8, columns), range(len(sheet), len(sheet) + 4)]

    def flipping(number: int) -> Mesh:
        points = np.concatenate([sheet, drawn(SQUARE, ARROW, number) - [0.0, 2.0, 0.0]])
        return plain(points + np.array([0.0, 0.0, 0.1 * number]), faces)

    said = heard(look(tmp_path, frames({number: flipping(number) for number in range(1, 13)})))
    assert ("concave-faces", severity, [5.0]) in said
