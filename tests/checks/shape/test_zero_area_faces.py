"""Tests of `zero-area-faces`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.shape import FLAT, TAIL
from tests.helpers.meshes import ABSENT, Mesh, grid_faces, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, frames, heard, look
from tests.helpers.surfaces import EVERY, drawn, sequence, with_face


def with_tail(number: int) -> Mesh:
    return with_face(wing(number), TAIL)


@pytest.mark.parametrize("name", [name for name in FLAT if name != "four on a line"])
def test_on_one_frame(name: str, tmp_path: Path) -> None:
    assert heard(look(tmp_path / "tail", sequence(with_tail))) == []
    said, inspection = broken(
        tmp_path,
        "zero-area-faces",
        sequence(lambda n: with_face(wing(n), drawn(TAIL, FLAT[name], n))),
    )
    assert said == [("zero-area-faces", "warning", [5.0])]
    finding = finding_of(inspection, "zero-area-faces")
    assert finding.where[0].element == "face 13"
    assert finding.numbers == {"kind": "zero-area-face", "most": 1, "least": 1}


@pytest.mark.parametrize("name", FLAT)
def test_on_every_frame_it_is_the_model(name: str, tmp_path: Path) -> None:
    assert heard(look(tmp_path, sequence(lambda n: with_face(wing(n), FLAT[name])))) == [
        ("zero-area-faces", "note", EVERY)
    ]


def test_thin_faces_have_an_area(tmp_path: Path) -> None:
    thin = [[5.0, 0, 0], [6, 0, 0], [6, 0, 0.00001]]
    assert heard(look(tmp_path, sequence(lambda n: with_face(wing(n), thin)))) == []


def test_a_mesh_that_grows_from_a_point(tmp_path: Path) -> None:
    def grown(number: int) -> Mesh:
        mesh = wing(0)
        return mesh.edit(positions=mesh.positions * np.float64((number - 1) / 11))

    assert "zero-area-faces" not in {check for check, _, _ in heard(look(tmp_path, sequence(grown)))}


@pytest.mark.parametrize(("rows", "severity"), [(18, "warning"), (25, "note")])
def test_a_sliver_among_hundreds_of_faces(rows: int, severity: str, tmp_path: Path) -> None:
    """The sliver is one of 1 + 17 x 24 = 409 faces (a share of 0.0024), or one of 1 + 24 x 24 = 577 faces (a share of
    0.0017). If the share is at least 0.002 (ZERO_AREA_SHARE), the finding is a warning; otherwise, it is a note."""

    def cloth(number: int) -> Mesh:
        x, z = np.meshgrid(np.arange(25.0), np.arange(float(rows)))
        points = np.stack([x.ravel(), 0.1 * np.sin(x + 0.1 * number).ravel(), z.ravel() + 0.1 * number], axis=1)
        corners = [tuple((v, ABSENT, ABSENT) for v in face) for face in grid_faces(rows, 25)]
        tail = np.add(drawn(TAIL, FLAT["on a line"], number), [30.0, 0.0, 0.1 * number])
        first = len(points)
        face = tuple((first + at, ABSENT, ABSENT) for at in range(3))
        return Mesh(np.concatenate([points, tail]), (*corners, face))

    said = heard(look(tmp_path, frames({number: cloth(number) for number in range(1, 13)})))
    assert [one for one in said if one[0] == "zero-area-faces"] == [("zero-area-faces", severity, [5.0])]
