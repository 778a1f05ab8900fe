"""Tests of glTF 2.0. Sources: its specification (Khronos) and trimesh."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.formats.files import gltf
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Slot
from inspector.formats.problems import UnreadableFrame
from inspector.sequence.run.scan import load_frame
from tests.helpers.gltf import POINTS, UINT, USHORT, nowhere, scene, triangle
from tests.helpers.images import image_file, spots


def test_positions_are_y_up_in_metres_and_uvs_turn_to_bottom_left() -> None:
    # Specification 3.4: +Y is up, and the unit is the metre. OBJ defines neither, so the numbers stay the same. 3.8.3:
    # the origin of UVs is the top left in glTF and the bottom left in OBJ. This also applies without a material.
    document, primitive = triangle()
    mesh = gltf.read(document.glb(scene([primitive])), nowhere)
    np.testing.assert_array_equal(mesh.positions, POINTS)
    np.testing.assert_array_equal(mesh.uvs, [(0, 1), (1, 1), (0, 0.75)])
    assert mesh.corners.v.tolist() == mesh.corners.vt.tolist() == [0, 1, 2]
    assert (mesh.corners.vn == ABSENT).all()


def test_uvs_as_whole_numbers_are_shares_of_their_type() -> None:
    # Specification 3.11: an unsigned short c represents c / 65535.
    document, primitive = triangle()
    whole = np.array([(0, 65535), (65535, 0), (13107, 0)], np.uint16)
    primitive["attributes"]["TEXCOORD_0"] = document.array(whole, USHORT, "VEC2", normalized=True)
    mesh = gltf.read(document.glb(scene([primitive])), nowhere)
    np.testing.assert_allclose(mesh.uvs, [(0, 0), (1, 1), (0.2, 1)])


def test_nodes_place_meshes_in_the_world_in_the_order_of_the_document() -> None:
    # Specification 3.5.3: translation * rotation * scale, parents first. The rotation is 90 degrees about z, and the
    # scale is 2.
    document, primitive = triangle()
    half = np.sqrt(0.5)
    nodes = [
        {"children": [2, 1], "translation": [10, 0, 0]},
        {"mesh": 0, "name": "left"},
        {"mesh": 0, "name": "right", "rotation": [0, 0, half, half], "scale": [2, 2, 2]},
    ]
    more = {"meshes": [{"primitives": [primitive]}], "nodes": nodes, "scenes": [{"nodes": [0]}]}
    mesh = gltf.read(document.glb(more), nowhere)
    np.testing.assert_allclose(mesh.positions[:3], [(10, 0, 0), (10, 2, 0), (6, 0, 0)], atol=1e-12)
    np.testing.assert_allclose(mesh.positions[3:], POINTS + np.array([10, 0, 0]))
    assert [str(part.object) for part in mesh.parts] == ["right", "left"]
    assert mesh.corners.v.tolist() == [0, 1, 2, 3, 4, 5]


def test_a_mirroring_node_turns_the_winding() -> None:
    # Specification 3.7.4: a negative determinant swaps front and back.
    document, primitive = triangle()
    mesh = gltf.read(document.glb(scene([primitive], scale=[-1, 1, 1])), nowhere)
    a, b, c = mesh.positions[mesh.corners.v]
    assert np.cross(b - a, c - a)[2] > 0
    assert mesh.corners.vt.tolist() == mesh.corners.v.tolist()


def test_materials_and_the_texture_inside() -> None:
    document, primitive = triangle(material=1)
    document.views.append(document.bytes(image_file(spots())))
    more = {
        "images": [{"bufferView": len(document.views) - 1, "mimeType": "image/png", "name": "../skin"}],
        "textures": [{"source": 0}],
        "materials": [
            {"name": "wet"},
            {
                "name": "wet",
                "pbrMetallicRoughness": {"baseColorFactor": [0.5, 0.25, 1, 1], "baseColorTexture": {"index": 0}},
            },
        ],
    }
    mesh = gltf.read(document.glb({**scene([primitive]), **more}), nowhere)
    assert [str(one.name) for one in mesh.materials] == ["wet", "wet_2"], "names that repeat are made distinct"
    assert mesh.parts[0].material == mesh.materials[1].name
    assert mesh.materials[1].colour == (0.5, 0.25, 1)
    (colour,) = mesh.materials[1].maps
    assert colour.slot is Slot.COLOUR
    assert colour.image.data == image_file(spots())
    assert "/" not in str(colour.image.name)


def test_a_ball_as_trimesh_writes_it() -> None:
    ball = trimesh.creation.icosphere(subdivisions=2)
    mesh = gltf.read(ball.export(file_type="glb", include_normals=True), nowhere)
    np.testing.assert_array_equal(mesh.positions, ball.vertices.astype(np.float32))
    assert mesh.corners.v.reshape(-1, 3).tolist() == ball.faces.tolist()
    np.testing.assert_allclose(mesh.normals, ball.vertex_normals, atol=1e-6)


def test_buffers_come_from_the_frames_folder_and_from_nowhere_else(tmp_path: Path) -> None:
    document, primitive = triangle()
    (tmp_path / "shot" / "data").mkdir(parents=True)
    for place in ("shot/data/a b.bin", "outside.bin"):
        (tmp_path / place).write_bytes(document.buffer)
    (tmp_path / "shot" / "link.bin").symlink_to(tmp_path / "outside.bin")
    inside = tmp_path / "shot" / "manta.0001.gltf"
    inside.write_bytes(document.json(scene([primitive]), "data/a%20b.bin"))
    assert len(load_frame(inside).positions) == 3
    for uri in ("../outside.bin", str(tmp_path / "outside.bin"), "link.bin", "missing.bin", "x\0y.bin"):
        inside.write_bytes(document.json(scene([primitive]), uri))
        with pytest.raises(Exception, match="in another file, which was not read"):
            load_frame(inside)
    uri = "data:application/octet-stream;base64," + base64.b64encode(document.buffer).decode()
    inside.write_bytes(document.json(scene([primitive]), uri))
    assert len(load_frame(inside).positions) == 3


def broken() -> dict[str, bytes]:
    document, primitive = triangle()
    whole = document.glb(scene([primitive]))
    loop = {"meshes": [{"primitives": [primitive]}], "nodes": [{"children": [0]}], "scenes": [{"nodes": [0]}]}
    return {
        "cut": whole[:-4],
        "short": whole[:10],
        "no JSON": whole[:12] + b"x" * (len(whole) - 12),
        "loop": document.glb(loop),
        "not a number": document.glb({**scene([primitive]), "meshes": 7}),
        "no such accessor": document.glb(scene([{**primitive, "indices": 99}])),
        "needs": document.glb({**scene([primitive]), "extensionsRequired": ["KHR_draco_mesh_compression"]}),
        "version 1": json.dumps({"asset": {"version": "1.0"}}).encode(),
        "deep": b'{"asset":' + b"[" * 100_000,
    }


@pytest.mark.parametrize("name", broken())
def test_what_breaks_the_rules_is_refused(name: str) -> None:
    with pytest.raises(UnreadableFrame):
        gltf.read(broken()[name], nowhere)


def test_an_index_out_of_range_is_a_finding_and_no_crash(tmp_path: Path) -> None:
    document, primitive = triangle()
    primitive["indices"] = document.array(np.array([0, 1, 70], np.uint32), UINT, "SCALAR")
    path = tmp_path / "jelly.0001.glb"
    path.write_bytes(document.glb(scene([primitive])))
    assert load_frame(path).problems[0].kind == "index-range"


def test_shared_children_are_refused_at_once() -> None:
    """Each of 40 nodes has the next node as its child twice, so a reader that follows every child would visit 2^40
    nodes. Nodes must form strict trees (specification 3.5.2)."""
    document, primitive = triangle()
    nodes = [{"children": [level + 1, level + 1]} for level in range(40)]
    whole = {"meshes": [{"primitives": [primitive]}], "nodes": [*nodes, {"mesh": 0}], "scenes": [{"nodes": [0]}]}
    with pytest.raises(UnreadableFrame, match="two parents"):
        gltf.read(document.glb(whole), nowhere)
