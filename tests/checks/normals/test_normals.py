"""Tests of the checks of normals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.normals import unlit
from tests.helpers.meshes import Mesh, torus, wing, with_faces
from tests.helpers.one_thing import broken
from tests.helpers.quads import Quad, column, quad_frames
from tests.helpers.sequences import finding_of, frames, heard, look, shot
from tests.helpers.surfaces import EVERY, NUMBERS, lit, sequence


def test_the_lit_shot_is_silent(tmp_path: Path) -> None:
    assert heard(look(tmp_path, sequence(lit))) == []


def test_missing_on_some_faces(tmp_path: Path) -> None:
    said, inspection = broken(
        tmp_path, "missing-normals", sequence(lit, {5: lambda mesh: unlit(mesh, range(4, 7))}), good=sequence(lit)
    )
    assert said == [("missing-normals", "warning", [5.0])]
    finding = finding_of(inspection, "missing-normals")
    assert finding.numbers == {"kind": "no-normal", "most": 3, "least": 3}
    assert finding.where[0].element == "face 5"


def test_missing_on_a_frame(tmp_path: Path) -> None:
    assert heard(look(tmp_path, sequence(lit, {5: unlit}))) == [("missing-normals", "warning", [5.0])]


def test_missing_throughout_and_no_smoothing(tmp_path: Path) -> None:
    bare = sequence(lambda n: wing(n).edit(smooth=""))
    assert heard(look(tmp_path, bare)) == [("missing-normals", "note", EVERY)]


def test_lengths(tmp_path: Path) -> None:
    files = sequence(lit, {5: lambda mesh: mesh.edit(normals=mesh.normals * 2)})
    said, inspection = broken(tmp_path, "normal-length", files, good=sequence(lit))
    assert said == [("normal-length", "warning", [5.0])]
    (where,) = finding_of(inspection, "normal-length").where
    assert where.element == "normal 1"
    assert files["manta.0005.obj"].split(b"\n")[(where.line or 0) - 1].startswith(b"vn ")


def test_no_direction(tmp_path: Path) -> None:
    inspection = look(tmp_path, sequence(lit, {5: lambda mesh: mesh.edit(normals=mesh.normals * 0)}))
    assert heard(inspection) == [("normal-length", "warning", [5.0])]
    assert finding_of(inspection, "normal-length").numbers["kind"] == "zero-normal"


def test_a_frame_with_all_normals_reversed_beside_a_fold(tmp_path: Path) -> None:
    def folded(number: int) -> Mesh:
        mesh = torus(40, 30)
        faces = (tuple((v, vt, 1200) for v, vt, _ in mesh.faces[0]), *mesh.faces[1:])
        inward = -mesh.normals[mesh.faces[0][0][2]]
        return mesh.edit(
            positions=mesh.positions + np.array([0.0, 0.0, 0.1 * number]),
            faces=faces,
            normals=np.concatenate([mesh.normals, [inward]]) * (-1.0 if number == 5 else 1.0),
        )

    inspection = look(tmp_path, frames({number: folded(number) for number in NUMBERS}))
    found = {one.severity.word: one for one in inspection.findings if one.check == "reversed-normals"}
    assert {word: [float(number) for number in one.frames] for word, one in found.items()} == {
        "warning": [5.0],
        "note": [number for number in EVERY if number != 5],
    }
    assert (found["warning"].numbers["least"], found["warning"].fixes) == (1199, ("flip-normals",))
    assert (found["note"].numbers["most"], found["note"].fixes) == (1, ())


@pytest.mark.parametrize(("turned", "fixes"), [(17, ()), (19, ("flip-normals",))])
def test_from_which_share_on_all_normals_count_as_reversed(turned: int, fixes: tuple[str, ...], tmp_path: Path) -> None:
    """The limit is 90 % of the faces (TURNED_SHARE)."""
    quads = [Quad(uvs=column(at, 20), normals=(-1.0 if at < turned else 1.0,) * 4) for at in range(20)]
    inspection = look(tmp_path, quad_frames(quads))
    assert finding_of(inspection, "reversed-normals").fixes == fixes


def test_rounding_to_two_decimals_is_no_other_length(tmp_path: Path) -> None:
    slant = np.round(np.array([[0.577, -0.577, 0.577]]), 2)
    assert heard(look(tmp_path, sequence(lambda n: lit(n).edit(normals=slant)))) == []


@pytest.mark.parametrize(("length", "found"), [(0.989, True), (0.991, False), (1.009, False), (1.011, True)])
def test_from_which_length_on_a_normal_is_not_of_length_1(length: float, found: bool, tmp_path: Path) -> None:
    said = heard(look(tmp_path, sequence(lambda n: lit(n).edit(normals=lit(n).normals * length))))
    assert said == [("normal-length", "warning", EVERY)] * found


def test_against_the_winding(tmp_path: Path) -> None:
    def up(mesh: Mesh) -> Mesh:
        both = np.concatenate([mesh.normals, -mesh.normals])
        return with_faces(mesh.edit(normals=both), lambda corner: (*corner[:2], 1), [7])

    files = sequence(lambda n: up(lit(n)))
    said, inspection = broken(tmp_path, "reversed-normals", files, good=sequence(lit))
    assert said == [("reversed-normals", "warning", EVERY)]
    finding = finding_of(inspection, "reversed-normals")
    assert finding.where[0].element == "face 8"
    assert finding.numbers["most"] == 1


def test_smoothed_normals_in_a_fold_are_not_against(tmp_path: Path) -> None:
    """In a fold, normals may be more than 90 degrees away from the directions in which their faces point."""
    slant = np.array([[0.0, -np.cos(np.radians(95)), np.sin(np.radians(95))]])
    assert heard(look(tmp_path, sequence(lambda n: lit(n).edit(normals=slant)))) == []


def test_their_number_changes(tmp_path: Path) -> None:
    files = sequence(lambda n: lit(n).edit(normals=np.repeat(lit(n).normals, 1 + n % 3, axis=0)))
    said, inspection = broken(tmp_path, "normal-count", files, good=sequence(lit))
    assert said == [("normal-count", "note", EVERY)]
    assert finding_of(inspection, "normal-count").numbers == {"least": 1, "most": 3}


def test_smoothing(tmp_path: Path) -> None:
    files = shot(
        {
            5: lambda mesh: mesh.edit(smooth="off"),
            6: lambda mesh: mesh.edit(smooth="2"),
        }
    )
    said, _ = broken(tmp_path, "smoothing-change", files)
    assert said == [("smoothing-change", "warning", [5.0, 6.0])]


def test_off_and_0_and_nothing_are_one(tmp_path: Path) -> None:
    """`s 0` and `s off` have the same meaning, and a file without the statement has no smoothing (format document)."""
    off = ["", "off", "0"]
    said = heard(look(tmp_path, sequence(lambda n: lit(n).edit(smooth=off[n % 3]))))
    assert "smoothing-change" not in {check for check, _, _ in said}


@pytest.mark.parametrize(("share", "severity"), [(0.0019, "note"), (0.0021, "warning")])
def test_the_share_of_the_surface_with_reversed_normals_decides(share: float, severity: str, tmp_path: Path) -> None:
    small = Quad(side=(share / (1.0 - share)) ** 0.5, normals=(-1, -1, -1, -1))
    finding = finding_of(look(tmp_path, quad_frames([Quad(), small])), "reversed-normals")
    assert finding.severity.word == severity


@pytest.mark.parametrize(
    ("normals", "reported"),
    [((-1, 1, 1, 1), False), ((1, 1, -1, 1), False), ((-1, 1, -1, 1), True), ((-1, -1, -1, -1), True)],
)
def test_two_corners_are_against_the_face(normals: tuple[float, ...], reported: bool, tmp_path: Path) -> None:
    inspection = look(tmp_path, quad_frames([Quad(), Quad(normals=normals)]))
    assert ("reversed-normals" in {check for check, _, _ in heard(inspection)}) is reported
