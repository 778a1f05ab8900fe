"""Tests of `uv-mirrored`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.checks.uvs.uv_mirrored import CHECK
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.meshes import Mesh
from tests.helpers.one_thing import broken
from tests.helpers.quads import Quad, quad_frames
from tests.helpers.sequences import finding_of, heard, look
from tests.helpers.surfaces import EVERY, lit, ring, sequence
from tests.helpers.uvs import all_laid


def test_everything_mirrored(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-mirrored", all_laid(lambda uv: [1, 0] + uv * [-1, 1], first=0))
    assert said == [("uv-mirrored", "note", EVERY)]
    finding = finding_of(inspection, "uv-mirrored")
    assert (finding.message, finding.fixes) == ("the texture is mirrored on the whole surface", ("uv-mirror",))


def test_one_island_mirrored(tmp_path: Path) -> None:
    """Mirrored halves are usually intended, so there is no fix."""
    inspection = look(tmp_path, all_laid(lambda uv: [1.4, 0] + uv * [-1, 1]))
    assert heard(inspection) == [("uv-mirrored", "note", EVERY)]
    finding = finding_of(inspection, "uv-mirrored")
    assert (finding.message, finding.fixes) == ("50% of the UV layout is mirrored", ())


def turned_round(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=tuple(face[::-1] for face in mesh.faces))


def test_faces_that_look_inward(tmp_path: Path) -> None:
    """The faces, UVs and normals of a ring are all reversed, so the ring looks the same from outside."""
    assert heard(look(tmp_path / "ring", sequence(ring))) == []
    inside_out = sequence(lambda n: turned_round(ring(n)).edit(normals=-ring(n).normals))
    assert [one for one in heard(look(tmp_path / "inside out", inside_out)) if one[0].startswith("uv-")] == []


def drawn(mesh: Mesh) -> list[int]:
    assert CHECK.affected_faces is not None
    found = CHECK.affected_faces(read_frame(mesh.text()), None)
    assert found is not None
    return found.tolist()


def test_pictures_mark_what_is_mirrored_as_seen_from_outside() -> None:
    sound, sheet = ring(1), lit(1)
    mirrored = sound.edit(uvs=[1, 0] + sound.uvs * [-1, 1])
    every = list(range(len(sound.faces)))
    assert drawn(sound) == drawn(turned_round(sound)) == []
    assert drawn(mirrored) == drawn(turned_round(mirrored)) == every
    assert drawn(turned_round(sheet)) == list(range(len(sheet.faces)))  # an open sheet has no inside


def test_faces_against_their_normals(tmp_path: Path) -> None:
    """The faces of an open sheet are reversed. The sheet's normals, which determine its front, are not reversed."""
    said = heard(look(tmp_path, sequence(lambda n: turned_round(lit(n)))))
    assert [check for check, _, _ in said] == ["reversed-normals"]


def test_faces_back_to_back_are_told_of_alone(tmp_path: Path) -> None:
    def backed(n: int) -> Mesh:
        mesh = lit(n)
        up = tuple((v, vt, 1) for v, vt, _ in mesh.faces[2][::-1])
        return mesh.edit(faces=(*mesh.faces, up), normals=np.array([[0.0, -1, 0], [0, 1, 0]]))

    assert heard(look(tmp_path, sequence(backed))) == [("coincident-faces", "warning", EVERY)]


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0095, []),
        (0.0105, ["1% of the UV layout is mirrored"]),
        (0.9895, ["99% of the UV layout is mirrored"]),
        (0.9905, ["the texture is mirrored on the whole surface"]),
    ],
)
def test_which_share_of_the_layout_is_worth_a_note(share: float, said: list[str], tmp_path: Path) -> None:
    """One of two squares is mirrored. Mirrored faces are reported if they make up more than 1 % of the area
    (MIRRORED_SHARE). If they make up more than 99 %, they count as the whole surface."""
    small = 0.8 * (min(share, 1.0 - share) / max(share, 1.0 - share)) ** 0.5
    rings = [[(0.1, 0.1), (0.1 + side, 0.1), (0.1 + side, 0.1 + side), (0.1, 0.1 + side)] for side in (0.8, small)]
    mirrored = rings[int(share < 0.5)]
    quads = [Quad(uvs=ring[::-1] if ring is mirrored else ring) for ring in rings]
    findings = look(tmp_path, quad_frames(quads)).findings
    assert [finding.message for finding in findings if finding.check == "uv-mirrored"] == said
