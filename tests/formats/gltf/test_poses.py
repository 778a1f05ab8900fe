"""Tests of skins and morph targets.

The expected values were calculated by hand from Khronos, glTF 2.0 specification, 3.7.2.2 (morph targets), 3.7.3
(skins), 3.7.4 (instantiation).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from inspector.formats.files import gltf
from inspector.formats.problems import UnreadableFrame
from tests.helpers.gltf import FLOAT, POINTS, nowhere, scene, triangle

BYTE = 5121
LIFT = np.array([(0, 0, 1), (0, 0, 0), (0, 0, 3)], np.float32)


@pytest.mark.parametrize("where", ["mesh", "node"])
def test_morph_targets_have_their_default_weights(where: str) -> None:
    document, primitive = triangle()
    primitive["targets"] = [{"POSITION": document.array(LIFT, FLOAT, "VEC3")}]
    more = scene([primitive], **({"weights": [0.5]} if where == "node" else {}))
    more["meshes"][0]["weights"] = [0.0] if where == "node" else [0.5]
    mesh = gltf.read(document.glb(more), nowhere)
    np.testing.assert_allclose(mesh.positions, POINTS + LIFT / 2)
    assert mesh.left_out == ()


def skinned(joints: list[tuple[int, ...]], weights: list[tuple[float, ...]], **skin: Any) -> bytes:
    document, primitive = triangle()
    primitive["attributes"] |= {
        "JOINTS_0": document.array(np.array(joints, np.uint8), BYTE, "VEC4"),
        "WEIGHTS_0": document.array(np.array(weights, np.float32), FLOAT, "VEC4"),
        "NORMAL": document.array(np.array([(1, 0, 0)] * 3, np.float32), FLOAT, "VEC3"),
    }
    half = np.sqrt(0.5)
    nodes = [
        {"mesh": 0, "skin": 0, "translation": [99, 0, 0]},
        {"translation": [10, 0, 0]},
        {"rotation": [0, 0, half, half]},
    ]
    inverse = np.stack([np.eye(4), np.eye(4)]).astype(np.float32)
    inverse[0, 3, :3] = (0, 0, 5)  # by columns: the last four numbers are the translation
    matrices = document.array(inverse.reshape(2, 16), FLOAT, "MAT4")
    whole = {"joints": [1, 2], "inverseBindMatrices": matrices, **skin}
    parts = {"meshes": [{"primitives": [primitive]}], "nodes": nodes, "scenes": [{"nodes": [0, 1, 2]}]}
    return document.glb({**parts, "skins": [whole]})


def test_a_skin_puts_vertices_where_its_joints_are_and_not_its_node() -> None:
    joints, weights = [(0, 0, 0, 0), (1, 0, 0, 0), (0, 1, 0, 0)], [(1, 0, 0, 0), (1, 0, 0, 0), (0.5, 0.5, 0, 0)]
    mesh = gltf.read(skinned(joints, weights), nowhere)
    first, second = POINTS[2] + (10, 0, 5), np.array((-2, 0, 0))
    np.testing.assert_allclose(mesh.positions, [(10, 0, 5), (0, 1, 0), (first + second) / 2], atol=1e-6)
    half = np.sqrt(0.5)
    np.testing.assert_allclose(mesh.normals, [(1, 0, 0), (0, 1, 0), (half, half, 0)], atol=1e-6)


def test_weights_that_do_not_sum_up_to_one_are_shares() -> None:
    joints = [(0, 1, 0, 0)] * 3
    whole, halves = (skinned(joints, [(one, one, 0, 0)] * 3) for one in (1.0, 0.5))
    np.testing.assert_allclose(gltf.read(whole, nowhere).positions, gltf.read(halves, nowhere).positions)


def test_without_inverse_bind_matrices_they_are_the_identity() -> None:
    data = skinned([(0, 0, 0, 0)] * 3, [(1, 0, 0, 0)] * 3)
    plain = data.replace(b'"inverseBindMatrices"', b'"inverseBindMatriceX"')
    np.testing.assert_allclose(gltf.read(plain, nowhere).positions, POINTS + np.array((10, 0, 0)))


def test_a_joint_that_there_is_not_is_refused_in_words() -> None:
    with pytest.raises(UnreadableFrame, match="bound to a joint that its skin doesn't have"):
        gltf.read(skinned([(7, 0, 0, 0)] * 3, [(1, 0, 0, 0)] * 3), nowhere)


def test_a_node_that_is_stated_invisible_is_not_seen() -> None:
    # KHR_node_visibility: if `visible` is false, the node and its children are hidden.
    document, primitive = triangle()
    hidden = {"mesh": 0, "extensions": {"KHR_node_visibility": {"visible": False}}}
    more = {"meshes": [{"primitives": [primitive]}], "nodes": [hidden, {"mesh": 0}], "scenes": [{"nodes": [0, 1]}]}
    assert len(gltf.read(document.glb(more), nowhere).positions) == 3
