"""Tests of connected faces. References: scipy (components of a graph) and layouts made by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import scipy.sparse
import scipy.sparse.csgraph

from inspector.formats.frame import ABSENT
from inspector.formats.wavefront.reader import read_frame
from inspector.names import Name
from inspector.sequence.run.scan import load_frame
from inspector.surface.components import connected
from inspector.surface.islands import find_islands
from tests.helpers.meshes import plain, torus, with_faces
from tests.helpers.shapes import read, sheet_mesh, wall


@pytest.mark.parametrize("seed", range(20))
def test_components_are_those_of_scipy(seed: int) -> None:
    random = np.random.default_rng(seed)
    count = int(random.integers(1, 400))
    links = random.integers(0, count, (int(random.integers(0, count)), 2))
    graph = scipy.sparse.coo_matrix((np.ones(len(links)), links.T), (count, count))
    expected = scipy.sparse.csgraph.connected_components(graph, directed=False)[1]
    found = connected(count, links)
    assert len({*zip(found.tolist(), expected.tolist(), strict=True)}) == found.max() + 1 == expected.max() + 1
    assert np.unique(found, return_index=True)[1].tolist() == sorted(np.unique(found, return_index=True)[1].tolist())


def test_a_long_chain_is_one_component() -> None:
    order = np.random.default_rng(1).permutation(20_000)
    assert connected(20_000, np.stack([order[:-1], order[1:]], axis=1)).max() == 0


def test_the_demo_has_two_islands(demo: Path) -> None:
    islands = find_islands(load_frame(demo / "manta/manta.0001.obj"))
    assert np.bincount(islands.of_face).tolist() == [264 + 70, 264]
    assert islands.material == (Name(b"manta_skin"), Name(b"manta_skin"))
    assert np.bincount(islands.outline_island).tolist() == [70, 70]


def test_a_torus_with_seams_is_one_island_with_its_seams_as_outline() -> None:
    islands = find_islands(read(torus(6, 4)))
    assert len(islands) == 1
    assert len(islands.outline) == 2 * (6 + 4)


def test_uvs_written_anew_at_every_corner_make_no_islands_of_their_own() -> None:
    mesh = torus(6, 4)
    uvs = np.array([mesh.uvs[vt] for face in mesh.faces for _, vt, _ in face])
    counter = iter(range(len(uvs)))
    exploded = mesh.edit(uvs=uvs, faces=tuple(tuple((v, next(counter), n) for v, _, n in face) for face in mesh.faces))
    assert len(find_islands(read(exploded))) == 1


def test_materials_part_islands() -> None:
    text = read_frame(
        b"v 0 0 0\nv 1 0 0\nv 2 0 0\nv 0 1 0\nv 1 1 0\nv 2 1 0\nvt 0 0\nvt 1 0\nvt 2 0\nvt 0 1\nvt 1 1\nvt 2 1\n"
        b"f 1/1 2/2 5/5 4/4\nusemtl skin\nf 2/2 3/3 6/6 5/5\n"
    )
    islands = find_islands(text)
    assert islands.of_face.tolist() == [0, 1]
    assert islands.material == (None, Name(b"skin"))


def test_a_seam_in_the_texture_parts_islands_and_faces_without_uvs_have_none() -> None:
    mesh = sheet_mesh(wall(4, 1), 4, 1)
    shifted = mesh.edit(uvs=np.concatenate([mesh.uvs, np.add(mesh.uvs, [2, 0])]))
    moved = with_faces(shifted, lambda corner: (corner[0], corner[1] + len(mesh.uvs), ABSENT), of=[1])
    cut = with_faces(moved, lambda corner: (corner[0], ABSENT, ABSENT), of=[3])
    assert find_islands(read(cut)).of_face.tolist() == [0, 1, 2, ABSENT]
    assert len(find_islands(read(plain(mesh.positions, [[0, 1, 6, 5]])))) == 0
