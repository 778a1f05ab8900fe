"""Tests of materials and maps.

Sources: Khronos, glTF 2.0 specification, 3.8 and 3.9; the specifications of the extensions that the tests name.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from inspector.formats.files import gltf
from inspector.formats.mesh import Mesh, Slot
from inspector.formats.wavefront.compose import compose_library
from inspector.formats.wavefront.decompose import materials_of
from inspector.formats.wavefront.library import read_library
from tests.helpers.gltf import UVS, nowhere, scene, triangle
from tests.helpers.images import image_file, spots

RGBA = np.dstack([spots(), np.full(spots().shape[:2], 128, np.uint8)])


def read(material: dict[str, Any], pixels: np.ndarray | None = None, **more: Any) -> Mesh:
    document, primitive = triangle(material=0)
    document.views.append(document.bytes(image_file(spots() if pixels is None else pixels)))
    parts = {
        "images": [{"bufferView": len(document.views) - 1, "mimeType": "image/png", "name": "skin"}],
        "textures": [{"source": 0}, {"source": 0, "sampler": 0}],
        "samplers": [{"wrapS": 33071, "wrapT": 33071}],
        "materials": [{"name": "wet", **material}],
    }
    return gltf.read(document.glb({**scene([primitive]), **parts, **more}), nowhere)


ALL = {
    "pbrMetallicRoughness": {
        "baseColorFactor": [0.5, 0.25, 1, 0.75],
        "baseColorTexture": {"index": 0},
        "metallicFactor": 0.5,
        "roughnessFactor": 0.25,
        "metallicRoughnessTexture": {"index": 0},
    },
    "normalTexture": {"index": 1, "scale": 2},
    "emissiveFactor": [0, 0.5, 1],
    "emissiveTexture": {"index": 0},
    "alphaMode": "BLEND",
    "extensions": {"KHR_materials_emissive_strength": {"emissiveStrength": 4}},
}


def test_all_maps_go_to_their_slots_and_through_a_library_and_back() -> None:
    mesh = read(ALL, RGBA)
    (material,) = mesh.materials
    assert (material.colour, material.opacity, material.emissive) == ((0.5, 0.25, 1), 0.75, (0, 2, 4))
    assert (material.roughness, material.metallic) == (0.25, 0.5)
    assert [(one.slot, one.channel, one.strength, one.clamp) for one in material.maps] == [
        (Slot.COLOUR, "", 1, False),
        (Slot.ROUGHNESS, "g", 1, False),
        (Slot.METALLIC, "b", 1, False),
        (Slot.OPACITY, "a", 1, False),
        (Slot.NORMAL, "", 2, True),
        (Slot.EMISSIVE, "", 1, False),
    ]
    assert mesh.left_out == ()
    text = compose_library([material])
    assert b"map_d -imfchan m skin.png\n" in text
    assert b"norm -clamp on -bm 2 skin.png\n" in text
    library = read_library(text)
    ((again, lost),) = materials_of(library, {line.start: material.maps[0].image for line in library.maps})
    assert (set(again.maps), again.roughness, again.metallic, again.emissive) == (
        set(material.maps), 0.25, 0.5, (0, 2, 4),
    )  # fmt: skip
    assert lost == ()


def test_what_a_material_has_beside_that_is_named_and_changes_the_picture() -> None:
    mesh = read({"occlusionTexture": {"index": 0}, "extensions": {"KHR_materials_clearcoat": {}}})
    (lost,) = mesh.left_out
    assert (lost.what, lost.seen) == ("material wet: its occlusion map, KHR_materials_clearcoat", True)


def test_a_cut_alpha_is_opacity_and_that_is_noted() -> None:
    mesh = read({"alphaMode": "MASK", "pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}}, RGBA)
    assert mesh.materials[0].map(Slot.OPACITY) is not None
    assert [(one.what, one.seen) for one in mesh.left_out] == [("material wet: its alpha cutoff of 0.5", False)]


def test_the_alpha_of_an_opaque_material_is_ignored() -> None:
    # 3.9.4: with OPAQUE, which is the default, alpha values are ignored.
    mesh = read({"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}, "baseColorFactor": [1, 1, 1, 0.1]}}, RGBA)
    assert (mesh.materials[0].opacity, mesh.materials[0].map(Slot.OPACITY)) == (1, None)


def transformed(**more: Any) -> dict[str, Any]:
    return {"index": 0, "extensions": {"KHR_texture_transform": more}}


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({"offset": [0.5, 0.25]}, [(u + 0.5, v + 0.25) for u, v in UVS]),
        ({"scale": [2, 3]}, [(2 * u, 3 * v) for u, v in UVS]),
        # The extension's document: u' = cos u + sin v, v' = -sin u + cos v; a quarter turn maps (u, v) to (v, -u).
        ({"rotation": np.pi / 2}, [(v, -u) for u, v in UVS]),
        ({"rotation": np.pi / 2, "scale": [2, 3], "offset": [1, 0]}, [(3 * v + 1, -2 * u) for u, v in UVS]),
    ],
)
def test_texture_transforms_are_applied_to_the_uvs(more: dict[str, Any], expected: list[tuple[float, float]]) -> None:
    mesh = read({"pbrMetallicRoughness": {"baseColorTexture": transformed(**more)}})
    np.testing.assert_allclose(mesh.uvs, [(u, 1 - v) for u, v in expected], atol=1e-6)
    assert mesh.left_out == ()


def test_a_map_with_other_uvs_than_the_colour_map_is_named() -> None:
    colour = {"baseColorTexture": transformed(scale=[2, 2])}
    mesh = read({"pbrMetallicRoughness": colour, "normalTexture": {"index": 0}})
    (lost,) = mesh.left_out
    assert "separate UVs for its normal map" in lost.what
    assert lost.seen


def test_a_material_that_says_nothing_but_double_sided_is_the_default_one() -> None:
    document, primitive = triangle(material=0)
    mesh = gltf.read(document.glb({**scene([primitive]), "materials": [{"doubleSided": True}]}), nowhere)
    assert (mesh.materials, mesh.parts[0].material) == ((), None)


def test_the_older_kind_of_material_keeps_colour_and_roughness() -> None:
    # KHR_materials_pbrSpecularGlossiness: glossiness is 1 minus roughness.
    glossy = {"diffuseFactor": [0.5, 1, 1, 1], "glossinessFactor": 0.75}
    mesh = read({"extensions": {"KHR_materials_pbrSpecularGlossiness": glossy}})
    (material,) = mesh.materials
    assert (material.colour, material.roughness, material.metallic) == ((0.5, 1, 1), 0.25, None)
    assert [one.seen for one in mesh.left_out] == [True]
