"""Tests of `left-out`. The PLY format is defined in G. Turk, "The PLY Polygon File Format", 1994."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import trimesh

from inspector.formats.files import ply
from inspector.formats.mesh import corners_of
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.meshes_out import of_frame
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, shot


def _as_ply(text: bytes) -> bytes:
    """Convert a frame to PLY, which supports only one normal per vertex."""
    frame = read_frame(text)
    mesh = of_frame(frame)
    faces = [frame.corners.v[start:stop].tolist() for start, stop in pairwise(frame.corners.offsets.tolist())]
    cut = trimesh.geometry.triangulate_quads(faces)
    normals = trimesh.Trimesh(frame.positions, cut, process=False).vertex_normals
    corners = frame.corners
    return ply.write(
        replace(mesh, normals=normals, corners=corners_of(corners.offsets, corners.v, corners.vt, corners.v))
    )


FRAMES = {name.replace(".obj", ".ply"): _as_ply(data) for name, data in shot().items() if name.endswith(".obj")}


def _with_quality(data: bytes) -> bytes:
    head, end, body = data.partition(b"end_header\n")
    count = int(head.partition(b"element vertex ")[2].split()[0])
    width = 4 * head.count(b"property float")
    rows = b"".join(body[width * row : width * (row + 1)] + bytes(4) for row in range(count))
    return head.replace(b"element face", b"property float quality\nelement face") + end + rows + body[width * count :]


def test_silent_then_a_note(tmp_path: Path) -> None:
    files = {name: _with_quality(data) for name, data in FRAMES.items()}
    said, inspection = broken(tmp_path, "left-out", files, FRAMES)
    assert said == [("left-out", "note", [float(number) for number in range(1, 13)])]
    assert finding_of(inspection, "left-out").message == "left out: vertex properties: quality"


def test_a_warning_where_the_picture_changes(tmp_path: Path) -> None:
    files = {
        name: data.replace(b"element vertex", b"comment TextureFile skin.png\nelement vertex")
        for name, data in FRAMES.items()
    }
    said, _ = broken(tmp_path, "left-out", files, FRAMES)
    assert [(check, severity) for check, severity, _ in said] == [("left-out", "warning")]
