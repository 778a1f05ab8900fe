"""Tests of primitives and accessors. Source: Khronos, glTF 2.0."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from inspector.formats.files import gltf
from inspector.formats.mesh import LeftOut, Mesh
from inspector.formats.problems import UnreadableFrame
from tests.helpers.gltf import FLOAT, POINTS, UINT, USHORT, Document, nowhere, scene, triangle

SQUARE = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], np.float32)
BYTE = 5121


def read(document: Document, more: dict[str, Any]) -> Mesh:
    return gltf.read(document.glb(more), nowhere)


def square(mode: int, order: list[int]) -> Mesh:
    document = Document()
    attributes = {"POSITION": document.array(SQUARE, FLOAT, "VEC3")}
    indices = document.array(np.array(order, np.uint16), USHORT, "SCALAR")
    return read(document, scene([{"attributes": attributes, "indices": indices, "mode": mode}]))


def test_strips_and_fans_are_triangles_that_face_the_same_way() -> None:
    # 3.7.2.1: strip p_i = {v_i, v_(i+1+i%2), v_(i+2-i%2)}; fan p_i = {v_(i+1), v_(i+2), v_0}.
    assert square(5, [0, 1, 3, 2]).corners.v.tolist() == [0, 1, 3, 1, 2, 3]
    assert square(6, [0, 1, 2, 3]).corners.v.tolist() == [1, 2, 0, 2, 3, 0]


def test_a_strip_s_triangles_without_area_that_only_lead_on_are_no_faces() -> None:
    assert len(square(5, [0, 1, 3, 3, 2]).corners.sizes) == 1


def test_points_alone_are_vertices_without_faces_and_beside_faces_they_are_named() -> None:
    document, faces = triangle()
    alone = read(document, scene([{"attributes": faces["attributes"], "mode": 0}]))
    assert (len(alone.positions), len(alone.corners.sizes)) == (3, 0)
    both = read(document, scene([faces, {"attributes": faces["attributes"], "mode": 1}]))
    assert (len(both.positions), len(both.corners.sizes)) == (3, 1)
    assert both.left_out == (LeftOut("lines", seen=True),)
    assert alone.left_out == ()


def test_a_document_without_a_mesh_is_an_empty_frame() -> None:
    assert len(read(Document(), {"nodes": [{}], "scenes": [{"nodes": [0]}]}).positions) == 0


def test_sparse_accessors_replace_elements_also_of_an_accessor_without_data() -> None:
    # 3.6.2.3: without a buffer view, all elements are zeros; `sparse` replaces some of them.
    document = Document()
    document.views += [document.bytes(np.array([1, 2], np.uint16).tobytes())]
    document.views += [document.bytes(POINTS[1:].tobytes())]
    sparse = {"count": 2, "indices": {"bufferView": 0, "componentType": USHORT}, "values": {"bufferView": 1}}
    document.accessors.append({"componentType": FLOAT, "count": 3, "type": "VEC3", "sparse": sparse})
    mesh = read(document, scene([{"attributes": {"POSITION": 0}}]))
    np.testing.assert_array_equal(mesh.positions, POINTS)


def test_quantised_positions_are_numbers_and_normalized_ones_are_shares() -> None:
    # KHR_mesh_quantization allows integers for positions; 3.11: a normalized byte c is max(c / 127, -1).
    document = Document()
    plain = document.array(np.array([(0, 0, 0, 0), (200, 0, 0, 0), (0, 7, 0, 0)], np.uint8), BYTE, "VEC3")
    document.accessors[plain] |= {"count": 3}
    document.views[-1]["byteStride"] = 4
    signed = document.array(np.array([(-128, 0, 0, 0), (127, 0, 0, 0), (0, 64, 0, 0)], np.int8), 5120, "VEC3")
    document.accessors[signed] |= {"normalized": True}
    document.views[-1]["byteStride"] = 4
    needed = {"extensionsRequired": ["KHR_mesh_quantization"], "extensionsUsed": ["KHR_mesh_quantization"]}
    numbers = read(document, {**scene([{"attributes": {"POSITION": plain}}]), **needed})
    assert numbers.positions.tolist() == [[0, 0, 0], [200, 0, 0], [0, 7, 0]]
    shares = read(document, {**scene([{"attributes": {"POSITION": signed}}]), **needed})
    np.testing.assert_allclose(shares.positions, [(-1, 0, 0), (1, 0, 0), (0, 64 / 127, 0)])


def test_vertex_colours_are_carried_and_their_opacity_is_named() -> None:
    document, primitive = triangle()
    colours = np.array([(255, 0, 0, 255), (0, 255, 0, 255), (0, 0, 51, 0)], np.uint8)
    primitive["attributes"]["COLOR_0"] = document.array(colours, BYTE, "VEC4", normalized=True)
    mesh = read(document, scene([primitive]))
    np.testing.assert_allclose(mesh.colours, [(1, 0, 0), (0, 1, 0), (0, 0, 0.2)], atol=1e-7)
    assert mesh.left_out == (LeftOut("the opacity of vertex colours", seen=True),)


@pytest.mark.parametrize(
    "name", ["KHR_materials_unlit", "KHR_lights_punctual", "KHR_texture_basisu", "KHR_materials_variants"]
)
def test_extensions_that_do_not_touch_the_geometry_are_no_reason_to_refuse(name: str) -> None:
    document, primitive = triangle()
    mesh = read(document, {**scene([primitive]), "extensionsRequired": [name]})
    assert (len(mesh.positions), mesh.left_out) == (3, ())


def test_an_unknown_extension_is_read_past_and_named_and_a_compressed_file_is_refused() -> None:
    document, primitive = triangle()
    mesh = read(document, {**scene([primitive]), "extensionsRequired": ["ACME_\x1bgizmo"]})
    assert mesh.left_out == (LeftOut("extensions that the file requires: ACME_\\x1bgizmo", seen=True),)
    with pytest.raises(UnreadableFrame, match="compressed meshes"):
        read(document, {**scene([primitive]), "extensionsRequired": ["KHR_draco_mesh_compression"]})


def test_animations_cameras_and_further_uv_sets_are_named() -> None:
    document, primitive = triangle()
    primitive["attributes"]["TEXCOORD_1"] = primitive["attributes"]["TEXCOORD_0"]
    more = {"animations": [{"channels": [], "samplers": []}], "cameras": [{"type": "perspective"}]}
    mesh = read(document, {**scene([primitive]), **more})
    assert [one.what.split(" (")[0] for one in mesh.left_out] == [
        "animations",
        "cameras",
        "UV sets that the first texture map does not use",
    ]
    assert not any(one.seen for one in mesh.left_out)


def broken() -> dict[str, tuple[Document, dict[str, Any], str]]:
    """Return broken documents, each with part of the expected message."""
    found: dict[str, tuple[Document, dict[str, Any], str]] = {}

    def put(what: str, words: str, **changes: Any) -> None:
        document, primitive = triangle()
        found[what] = (document, {**scene([primitive]), **changes}, words)

    put("a buffer without a length", "buffer 0 has no valid length", buffers=[{}])
    put("a buffer that is text", "`buffers` is not an object", buffers=["x"])
    put("a view beyond", "extends beyond the end of its buffer", bufferViews=[{"buffer": 0, "byteLength": 1 << 30}] * 3)
    put("no such view", "item 9 of `bufferViews`", accessors=[
        {"bufferView": 9, "componentType": FLOAT, "count": 3, "type": "VEC3"}] * 3)  # fmt: skip
    put("no such node", "item 7 of `nodes`", scenes=[{"nodes": [7]}])
    put("meshes that are a number", "`meshes` is not a list", meshes=7)
    put("a count of billions", "elements without data, which is too many", accessors=[
        {"componentType": FLOAT, "count": 10**12, "type": "VEC3"}] * 3)  # fmt: skip
    put("a node with text for numbers", "`translation` is not a list of 3 numbers", nodes=[
        {"mesh": 0, "translation": ["a", 0, 0]}])  # fmt: skip
    put("an unknown kind of number", "invalid count, type or component type", accessors=[
        {"bufferView": 0, "componentType": 5124, "count": 3, "type": "VEC3"}] * 3)  # fmt: skip
    return found


@pytest.mark.parametrize("what", broken())
def test_what_breaks_the_rules_is_said_in_words(what: str) -> None:
    document, more, words = broken()[what]
    with pytest.raises(UnreadableFrame) as caught:
        read(document, more)
    assert words in caught.value.words
    assert "Error" not in caught.value.words


def test_indices_that_are_no_whole_numbers_are_refused() -> None:
    document, primitive = triangle()
    primitive["indices"] = document.array(np.zeros(3, np.float32), FLOAT, "SCALAR")
    with pytest.raises(UnreadableFrame, match="used for indices"):
        read(document, scene([primitive]))
    primitive["indices"] = document.array(np.zeros(3, np.uint32), UINT, "SCALAR")
    assert len(read(document, scene([primitive])).corners.sizes) == 1
