"""Tests of properties that depend only on the faces. References: trimesh (components, boundary edges, closedness) and
counts by hand."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
import trimesh

from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from inspector.surface.connections import connect, same_corners
from tests.helpers.meshes import Mesh, plain, prism, sphere, torus, wing
from tests.helpers.shapes import read

MESHES = {"sheet": wing(0), "ring": torus(8, 5), "ball": sphere(6, 7), "triangles": sphere(2, 5), "prism": prism(7)}


def face_lists(frame: Frame) -> list[list[int]]:
    return [face.tolist() for face in np.split(frame.corners.v, frame.corners.offsets[1:-1])]


@pytest.mark.parametrize("name", MESHES)
def test_pieces_and_edges_are_those_of_trimesh(name: str) -> None:
    """Cutting faces into triangles adds only edges with two faces, so the components and the boundary edges stay the
    same."""
    frame = read(MESHES[name])
    fans = [[face[0], face[at], face[at + 1]] for face in face_lists(frame) for at in range(1, len(face) - 1)]
    mesh = trimesh.Trimesh(frame.positions, fans, process=False)
    found = connect(frame.corners, len(frame.positions))
    assert found.components == mesh.body_count
    assert found.boundary_edges == len(trimesh.grouping.group_rows(mesh.edges_sorted, require_count=1))
    assert (found.boundary_edges == found.non_manifold_edges == 0) == mesh.is_watertight
    assert found.unused == int((~mesh.referenced_vertices).sum())


@pytest.mark.parametrize("seed", range(10))
def test_random_faces_counted_by_hand(seed: int) -> None:
    """The faces use few vertices, so many edges and faces coincide."""
    random = np.random.default_rng(seed)
    faces = [random.permutation(7)[: random.integers(3, 6)].tolist() for _ in range(12)]
    frame = read(plain(random.normal(size=(9, 3)), faces))
    uses = Counter(frozenset(side) for face in faces for side in zip(face, [*face[1:], face[0]], strict=True))
    found = connect(frame.corners, 9)
    assert found.boundary_edges == sum(count == 1 for count in uses.values())
    assert found.non_manifold_edges == sum(count > 2 for count in uses.values())
    assert found.unused == 9 - len({vertex for face in faces for vertex in face})
    assert (found.duplicates.tolist(), found.reversed_duplicates.tolist()) == twice_by_hand(faces)


def twice_by_hand(faces: list[list[int]]) -> tuple[list[int], list[int]]:
    duplicates, reversed_duplicates = [], []
    for at, face in enumerate(faces):
        earlier = next((other for other in faces[:at] if sorted(other) == sorted(face)), None)
        if earlier is not None:
            turns = [face[::-1][step:] + face[::-1][:step] for step in range(len(face))]
            (reversed_duplicates if earlier in turns else duplicates).append(at)
    return duplicates, reversed_duplicates


def test_faces_that_lack_a_vertex_are_passed_over() -> None:
    frame = read_frame(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 1 2 9\nf 1 2 9\n")
    found = connect(frame.corners, 3)
    assert (found.boundary_edges, found.non_manifold_edges, found.unused) == (2, 1, 0)
    assert same_corners(frame.corners)[0].tolist() == []


@pytest.mark.parametrize("text", [b"v 0 0 0\n", b"v 0 0 0\nf 8 9 7\n"])
def test_nothing_to_connect(text: bytes) -> None:
    frame = read_frame(text)
    found = connect(frame.corners, 1)
    assert (found.components, found.boundary_edges, found.non_manifold_edges, found.unused) == (frame.faces, 0, 0, 1)


def test_two_meshes_are_two_pieces() -> None:
    one, other = torus(6, 5), sphere(4, 5)
    moved = tuple(tuple((v + len(one.positions), -1, -1) for v, _, _ in face) for face in other.faces)
    alone = tuple(tuple((v, -1, -1) for v, _, _ in face) for face in one.faces)
    both = Mesh(np.concatenate([one.positions, other.positions]), alone + moved)
    assert connect(read(both).corners, len(both.positions)).components == 2
