"""Reading a glTF document as one mesh. Source: Khronos, glTF 2.0 specification."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from inspector.formats.format import Beside, Content
from inspector.formats.gltf.accessors import Accessors
from inspector.formats.gltf.document import (
    Buffers,
    Document,
    broken,
    entries,
    extension,
    open_document,
    required,
)
from inspector.formats.gltf.geometry import POINTS, Geometry
from inspector.formats.gltf.materials import Materials
from inspector.formats.gltf.nodes import Nodes
from inspector.formats.mesh import LeftOut, Mesh, corners_of, join_meshes
from inspector.names import safe

_READ = frozenset(
    (
        *("KHR_mesh_quantization", "KHR_texture_transform", "KHR_node_visibility", "KHR_materials_emissive_strength"),
        *("EXT_mesh_gpu_instancing", "KHR_lights_punctual", "EXT_texture_webp", "KHR_texture_basisu"),
        *("EXT_texture_avif", "MSFT_texture_dds"),
    )
)
"""Extensions that this package reads, or reports as left out. gltf/materials.py reports other extensions of
materials.
"""


def read(data: Content, beside: Beside) -> Mesh:
    """Read all meshes of the scene in world space, with y up and in metres. Each primitive with faces becomes a part.

    Args:
        data: Content of the file.
        beside: Function that reads files to which the document refers.

    Raises:
        UnreadableFrame: The file is damaged, or needs a feature that is not supported.
    """
    try:
        document, binary = open_document(data[:])
        buffers = Buffers(document, binary, beside)
        materials = Materials(document, buffers, beside)
        geometry = Geometry(document, Accessors(document, buffers), Nodes(document), materials)
        every = list(geometry.pieces())
        losses = tuple(dict.fromkeys([*_left_out(document), *(loss for piece in every for loss in piece.left_out)]))
        pieces = [piece for piece in every if len(piece.positions)]
        if not pieces:
            return Mesh(np.zeros((0, 3)), corners_of(np.zeros(1, np.int64), np.zeros(0, np.int64)), left_out=losses)
        # If there are faces, primitives of points are dropped, because their vertices would be reported as unused.
        faces = [piece for piece in pieces if len(piece.corners.v)]
        if not faces:
            losses = tuple(one for one in losses if one != POINTS)
        return replace(join_meshes(faces or pieces, materials.all), left_out=losses)
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, OverflowError, RecursionError) as error:
        raise broken("a value in the document is missing or has the wrong type") from error


def _left_out(document: Document) -> Iterator[LeftOut]:
    """Yield the left-out content of the document, except content of meshes."""
    animations, cameras = len(entries(document, "animations")), len(entries(document, "cameras"))
    if animations:
        yield LeftOut(f"animations ({animations}); the pose of the nodes is used")
    lights = len(entries(extension(document, "KHR_lights_punctual") or {}, "lights"))
    if cameras or lights:
        found = {"cameras": cameras, "lights": lights}
        yield LeftOut(" and ".join(f"{kind} ({count})" for kind, count in found.items() if count))
    scenes = len(entries(document, "scenes"))
    if scenes > 1:
        yield LeftOut(f"scenes other than the default scene ({scenes - 1})")
    unknown = [name for name in required(document) if name not in _READ and not name.startswith("KHR_materials_")]
    if unknown:
        yield LeftOut(f"extensions that the file requires: {', '.join(map(safe, unknown))}", seen=True)
