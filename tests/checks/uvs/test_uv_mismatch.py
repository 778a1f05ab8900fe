"""Tests of `uv-mismatch`. A corner refers to a `vt` by its number (format document), so the picture stays the same only
if every corner keeps its UV coordinates."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.uvs import shifted, uvs_renumbered
from tests.helpers.meshes import Mesh, with_faces
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot

Edit = Callable[[Mesh], Mesh]


def unshared(mesh: Mesh) -> Mesh:
    uvs = np.array([mesh.uvs[corner[1]] for face in mesh.faces for corner in face])
    numbers = iter(range(len(uvs)))
    return with_faces(mesh, lambda corner: (corner[0], next(numbers), corner[2])).edit(uvs=uvs)


def wrapped(mesh: Mesh) -> Mesh:
    return with_faces(mesh, lambda corner: (corner[0], (corner[1] + 1) % len(mesh.uvs), corner[2]))


def turned_within_faces(mesh: Mesh) -> Mesh:
    def turn(face: tuple[tuple[int, int, int], ...]) -> tuple[tuple[int, int, int], ...]:
        return tuple((a[0], b[1], a[2]) for a, b in zip(face, (*face[1:], face[0]), strict=True))

    return mesh.edit(faces=(*map(turn, mesh.faces[:2]), *mesh.faces[2:]))


def islands_exchanged(mesh: Mesh) -> Mesh:
    half = len(mesh.uvs) // 2
    swap = {corner: (corner + half) % (2 * half) for corner in range(2 * half)}
    swap[0], swap[1] = swap[1], swap[0]  # so that the shift is not constant
    return with_faces(mesh, lambda corner: (corner[0], swap[corner[1]], corner[2]))


def other_seam(mesh: Mesh) -> Mesh:
    """Attach a column of faces to the left island instead of the right island."""
    uvs = np.concatenate([mesh.uvs, [[0.6, row / 3] for row in range(4)]])

    def uv(corner: tuple[int, int, int]) -> tuple[int, int, int]:
        row, column = divmod(corner[0], 5)
        return (corner[0], {2: row * 3 + 2, 3: 24 + row}[column], corner[2])

    return with_faces(mesh, uv, of=[2, 6, 10]).edit(uvs=uvs)


KINDS: dict[str, tuple[Edit, str, str, int, int]] = {
    # case: edit, kind, severity, faces, shift
    "other numbers": (uvs_renumbered, "renumbered", "note", 0, 0),
    "none shared": (unshared, "renumbered", "note", 0, 0),
    "off by four": (shifted, "shifted", "error", 12, 4),
    "off by one, around the end": (wrapped, "shifted", "error", 12, 1),
    "turned within faces": (turned_within_faces, "reassigned", "error", 2, 0),
    "islands exchanged": (islands_exchanged, "reassigned", "error", 12, 0),
    "another seam": (other_seam, "seams", "error", 3, 0),
}


@pytest.mark.parametrize("what", KINDS)
def test_each_kind(what: str, tmp_path: Path) -> None:
    edit, kind, severity, faces, shift = KINDS[what]
    said, inspection = broken(tmp_path, "uv-mismatch", shot({5: edit}))
    assert said == [("uv-mismatch", severity, [5.0])]
    numbers = finding_of(inspection, "uv-mismatch").numbers
    assert (numbers["kind"], numbers["faces"], numbers["shift"]) == (kind, faces, shift)


def test_one_finding_a_kind_over_all_its_frames(tmp_path: Path) -> None:
    inspection = look(tmp_path, shot({3: shifted, 5: shifted, 7: uvs_renumbered, 9: other_seam}))
    assert heard(inspection) == [
        ("uv-mismatch", "error", [3.0, 5.0]),
        ("uv-mismatch", "error", [9.0]),
        ("uv-mismatch", "note", [7.0]),
    ]


def test_a_shift_names_the_fix_that_shifts_back(tmp_path: Path) -> None:
    _, inspection = broken(tmp_path, "uv-mismatch", shot({5: shifted}))
    assert finding_of(inspection, "uv-mismatch").fixes == ("uv-shift-back", "uv-restore")
