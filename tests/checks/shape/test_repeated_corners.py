"""Tests of `repeated-corners`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.formats.wavefront.reader import read_frame
from inspector.sequence.measure.text_forms import repeated_corners
from tests.helpers.broken.shape import corner_repeated
from tests.helpers.one_thing import FACE, TEXT, broken, every
from tests.helpers.sequences import finding_of, shot


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "repeated-corners", every(corner_repeated))
    assert said == [("repeated-corners", "warning", [float(n) for n in range(1, 13)])]
    finding = finding_of(inspection, "repeated-corners")
    assert finding.numbers == {"kind": "repeated-corner", "places": 12}
    assert finding.where[0].element == "face 1"
    lines = shot()["manta.0001.obj"].split(b"\n")
    assert lines[(finding.where[0].line or 0) - 1] == FACE


def test_in_one_frame_the_faces_are_others_too(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": corner_repeated(TEXT)}
    said, _ = broken(tmp_path, "repeated-corners", files, companions={"changed-faces": "the surface changes as well"})
    assert said == [("changed-faces", "error", [5.0]), ("repeated-corners", "warning", [5.0])]


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 7, 8, 40])
def test_found_in_faces_of_any_size(sides: int) -> None:
    rng = np.random.default_rng(sides)
    faces = [rng.permutation(60)[: sides + at % 2] + 1 for at in range(20)]
    faces[3][0] = faces[3][-1]
    faces[8][1] = faces[8][2]
    vertices = "".join(f"v {n} 0 0\n" for n in range(60))
    text = vertices + "".join("f " + " ".join(map(str, face)) + "\n" for face in faces)
    expected = [at for at, face in enumerate(faces) if len(set(face.tolist())) < len(face)]
    assert repeated_corners(read_frame(text.encode())) == expected == [3, 8]


def test_two_bad_indices_are_no_repeat() -> None:
    assert repeated_corners(read_frame(b"v 0 0 0\nv 1 0 0\nf 9 8 1 2\n")) == []


def test_a_lone_face_of_many_corners_is_looked_at_too() -> None:
    vertices = "".join(f"v {n} 0 0\n" for n in range(12))
    face = " ".join(str(n + 1) for n in range(12))
    assert repeated_corners(read_frame(f"{vertices}f {face}\n".encode())) == []
    assert repeated_corners(read_frame(f"{vertices}f {face} 1\n".encode())) == [0]
