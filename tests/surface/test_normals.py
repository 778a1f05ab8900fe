"""Tests of normals. References: trimesh, and a sphere, whose normals are its radii."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.sequence.run.scan import load_frame
from inspector.surface.normals import area_vectors, face_normals
from inspector.surface.triangles import triangulate
from tests.helpers.meshes import plain, sphere
from tests.helpers.shapes import read, vertex_normals


def test_normals_of_the_demo_are_those_of_trimesh(demo: Path) -> None:
    frame = load_frame(demo / "manta/manta.0007.obj")
    cut = triangulate(frame.corners, frame.positions)
    mesh = trimesh.Trimesh(frame.positions, cut.vertices, process=False)
    vectors = area_vectors(frame.positions, cut)
    assert vectors == pytest.approx(mesh.face_normals * mesh.area_faces[:, None], abs=1e-12)
    weights = mesh.face_angles.ravel()[:, None] * np.repeat(mesh.face_normals, 3, axis=0)
    sums = np.zeros_like(frame.positions)
    np.add.at(sums, mesh.faces.ravel(), weights)
    expected = sums / np.linalg.norm(sums, axis=1)[:, None]
    assert vertex_normals(frame.positions, cut) == pytest.approx(expected, abs=1e-9)


def test_normals_of_a_sphere_are_its_radii() -> None:
    frame = read(sphere(24, 48, radius=3.0))
    cut = triangulate(frame.corners, frame.positions)
    # Quads are cut along one diagonal, so an error remains even with weights by angle: the square of the step, pi / 24
    assert np.abs(vertex_normals(frame.positions, cut) - frame.positions / 3).max() < (np.pi / 24) ** 2
    middles = np.array(
        [frame.positions[face].mean(axis=0) for face in np.split(frame.corners.v, frame.corners.offsets[1:-1])]
    )
    towards = middles / np.linalg.norm(middles, axis=1)[:, None]
    assert (face_normals(frame.positions, cut, frame.faces) * towards).sum(axis=1) == pytest.approx(1, abs=1e-2)


def test_faces_without_area_and_lone_vertices_have_no_normal() -> None:
    frame = read(plain(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0], [5, 5, 5]]), [[0, 1, 2]]))
    cut = triangulate(frame.corners, frame.positions)
    assert not face_normals(frame.positions, cut, 1).any()
    assert not vertex_normals(frame.positions, cut).any()
