"""Reading the primitives of a glTF document as meshes: faces, attributes, morph targets and skins.

Source: Khronos, glTF 2.0 specification: 3.7.2 (meshes), 3.7.3 (skins), 3.7.4 (winding), 3.8.3 (UVs).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from inspector.arrays import Floats
from inspector.formats.gltf.accessors import Accessors, Array
from inspector.formats.gltf.document import Document, broken, entries, entry, extension, value, whole_numbers
from inspector.formats.gltf.materials import MapUvs, Materials
from inspector.formats.gltf.nodes import MeshUse, Nodes
from inspector.formats.mesh import LeftOut, Mesh, Part, corners_of, legal, placed
from inspector.formats.skinning import skinned
from inspector.names import Name, safe

_POINTS, _TRIANGLES, _STRIP, _FAN = 0, 4, 5, 6  # modes of a primitive (5.24.4); modes 1 to 3 are lines

POINTS, _LINES = LeftOut("points that belong to no face", seen=True), LeftOut("lines", seen=True)


@dataclass(frozen=True, slots=True)
class Geometry:
    """Reads the meshes of a document.

    Attributes:
        document: The document.
        accessors: Its accessors.
        nodes: Its nodes, which place the meshes.
        materials: Its materials.
    """

    document: Document
    accessors: Accessors
    nodes: Nodes
    materials: Materials

    def pieces(self) -> Iterator[Mesh]:
        """Yield a mesh in world space for each primitive of each mesh in the scene.

        Mirrored meshes get the reverse winding (glTF 2.0, 3.7.4); skinned meshes are placed by their joints.

        Raises:
            UnreadableFrame: The document breaks the specification.
        """
        for use in self.nodes.meshes():
            mesh = entry(self.document, "meshes", use.mesh)
            skin = self._skin(use)
            label = value(use.node, "name", str, "") or value(mesh, "name", str, "")
            name = Name(label.encode("utf-8", "surrogateescape")) if label else None
            repeated = extension(use.node, "EXT_mesh_gpu_instancing") is not None
            for primitive in entries(mesh, "primitives"):
                piece = self._piece(primitive, name, self._weights(use.node, mesh), skin)
                if repeated:
                    loss = LeftOut(f"copies of {safe(label or 'a mesh')} (EXT_mesh_gpu_instancing)", seen=True)
                    piece = replace(piece, left_out=(*piece.left_out, loss))
                yield placed(piece, use.world) if skin is None else piece

    def _weights(self, node: Document, mesh: Document) -> list[float]:
        """Return the weights of the morph targets: the weights of the node or, if the node has none, the weights of the
        mesh (glTF 2.0, 3.7.2.2).
        """
        weights = value(node if "weights" in node else mesh, "weights", list, [])
        if not all(type(one) in (int, float) for one in weights):
            raise broken("`weights` is not a list of numbers")
        return [float(one) for one in weights]

    def _skin(self, use: MeshUse) -> Floats | None:
        """Return the matrix of each joint, for column vectors, (j, 4, 4); None if the mesh has no skin.

        Raises:
            UnreadableFrame: The skin breaks the specification.
        """
        if "skin" not in use.node:
            return None
        skin = entry(self.document, "skins", use.node["skin"])
        joints = whole_numbers(skin, "joints")
        for joint in joints:
            entry(self.document, "nodes", joint)
        worlds = np.array([self.nodes.world(joint) for joint in joints]).reshape(-1, 4, 4)
        if "inverseBindMatrices" not in skin:
            return worlds
        stored = self.accessors.floats(skin["inverseBindMatrices"], 16).astype(np.float64).reshape(-1, 4, 4)
        if len(stored) < len(joints):
            raise broken("a skin has fewer inverse bind matrices than joints")
        return worlds @ stored[: len(joints)].transpose(0, 2, 1)  # matrices are stored column by column

    def _piece(self, primitive: Document, name: Name | None, weights: list[float], skin: Floats | None) -> Mesh:
        attributes = value(primitive, "attributes", dict, {})
        surface = self.materials.of(primitive)
        if "POSITION" not in attributes:
            return Mesh(np.zeros((0, 3), np.float32), corners_of(np.zeros(1, np.int64), np.zeros(0, np.int64)))
        found = _Attributes(self.accessors, primitive, weights)
        positions = found.moved("POSITION", 3)
        normals = found.moved("NORMAL", 3) if "NORMAL" in attributes else None
        uvs = self._uvs(found, attributes, surface.layout)
        if skin is not None:
            positions, normals = _skinned(found, positions, normals, skin)
        v, lost = self._faces(primitive, len(positions))
        v = legal(v.astype(np.int64), len(positions))
        colours, more = found.colours(len(positions))
        several = [
            key for key in attributes if key.startswith("TEXCOORD_") and key != f"TEXCOORD_{surface.layout.uv_set}"
        ]
        losses = [*lost, *more, *(surface.losses if len(v) else ())]
        if several:
            losses.append(LeftOut("UV sets that the first texture map does not use"))
        return Mesh(
            positions,
            corners_of(np.arange(0, len(v) + 1, 3), v, None if uvs is None else v, None if normals is None else v),
            np.zeros((0, 2), np.float32) if uvs is None else uvs,
            np.zeros((0, 3), np.float32) if normals is None else normals,
            (Part(0, len(v) // 3, name, None if surface.material is None else surface.material.name),)
            if len(v)
            else (),
            colours=colours,
            left_out=tuple(losses),
        )

    def _uvs(self, found: _Attributes, attributes: Document, layout: MapUvs) -> Array | None:
        """Read the UVs, and move their origin from the top left (glTF 2.0, 3.8.3) to the bottom left. Return None if
        there are no UVs.
        """
        key = f"TEXCOORD_{layout.uv_set}"
        if key not in attributes:
            return None
        uvs = layout.applied(found.moved(key, 2))
        return np.column_stack([uvs[:, 0], 1 - uvs[:, 1]])

    def _faces(self, primitive: Document, vertices: int) -> tuple[Array, list[LeftOut]]:
        """Find the vertex index of each corner of all triangles (glTF 2.0, 3.7.2.1), and the content that is left out,
        such as points and lines.

        Raises:
            UnreadableFrame: The primitive breaks the specification.
        """
        mode = value(primitive, "mode", int, _TRIANGLES)
        if mode < _TRIANGLES:
            return np.zeros(0, np.int64), [_LINES if mode > _POINTS else POINTS]
        indices = np.arange(vertices) if "indices" not in primitive else self.accessors.whole(primitive["indices"])
        if mode == _TRIANGLES:
            spare = len(indices) % 3
            return indices[: len(indices) - spare], [LeftOut("the corners of an incomplete triangle")] if spare else []
        start = np.arange(max(len(indices) - 2, 0))
        if mode == _STRIP:
            odd = start % 2
            rows = indices[np.column_stack([start, start + 1 + odd, start + 2 - odd])]
            a, b, c = rows.T
            return rows[(a != b) & (b != c) & (c != a)].reshape(-1), []  # the others only connect triangles
        if mode == _FAN:
            return indices[np.column_stack([start + 1, start + 2, np.zeros_like(start)])].reshape(-1), []
        raise broken(f"a primitive has the unknown mode {mode}")


class _Attributes:
    """The attributes of a primitive, and its morph targets with their weights."""

    def __init__(self, accessors: Accessors, primitive: Document, weights: list[float]) -> None:
        self._accessors = accessors
        self._given = value(primitive, "attributes", dict, {})
        targets = entries(primitive, "targets")
        self._targets = [(one, weight) for one, weight in zip(targets, weights, strict=False) if weight]

    def plain(self, key: str, *widths: int) -> Array:
        """Return an attribute as floats, (n, w), where w is one of `widths`. Morph targets are not added."""
        return self._accessors.floats(self._given[key], *widths)

    def moved(self, key: str, *widths: int) -> Array:
        """Return an attribute with the weighted morph targets added: (n, w), where w is one of `widths`.

        Raises:
            UnreadableFrame: The attribute or a morph target breaks the specification.
        """
        values = self.plain(key, *widths)
        for target, weight in self._targets:
            if key in target:
                added = self._accessors.floats(target[key], *widths)
                if added.shape != values.shape:
                    raise broken(f"the {key} values of a morph target don't match those of its mesh in number or type")
                values = (values.astype(np.float64) + weight * added).astype(np.float32)
        return values

    def colours(self, count: int) -> tuple[Array, list[LeftOut]]:
        """Read the colours of `count` vertices. Opacity is left out; this is reported if the opacity of any vertex is
        below 1.

        Returns:
            The colours, (count, 3), and the content that is left out. The colours are linear red, green and blue; the
            array is empty if there are no colours.

        Raises:
            UnreadableFrame: The number of colours is not `count`.
        """
        if "COLOR_0" not in self._given:
            return np.zeros((0, 3)), []
        values = self.moved("COLOR_0", 3, 4)
        if len(values) != count:
            raise broken("a primitive has different numbers of colours and positions")
        faint = values.shape[1] == 4 and bool((values[:, 3] < 1).any())
        return values[:, :3].astype(np.float32), [LeftOut("the opacity of vertex colours", seen=True)] if faint else []

    def influences(self, count: int) -> tuple[Array, Array]:
        """Read the joints and the weights of `count` vertices.

        Returns:
            Indices of joints, and their weights, both (count, 4 k), where k is the number of sets of joints.

        Raises:
            UnreadableFrame: There are no joints, a set of joints has no weights, or the number of rows is not `count`.
        """
        sets = [number for number in range(len(self._given)) if f"JOINTS_{number}" in self._given]
        if not sets or any(f"WEIGHTS_{number}" not in self._given for number in sets):
            raise broken("a skinned mesh has no joints, or joints without weights")
        joints = np.hstack([self.plain(f"JOINTS_{number}", 4) for number in sets]).astype(np.int64)
        weights = np.hstack([self.plain(f"WEIGHTS_{number}", 4) for number in sets]).astype(np.float64)
        if len(joints) != count or len(weights) != count:
            raise broken("a primitive has different numbers of joints, weights and positions")
        return joints, weights


def _skinned(found: _Attributes, positions: Array, normals: Array | None, skin: Floats) -> tuple[Array, Array | None]:
    """Move positions and normals with the joints of a skin.

    Raises:
        UnreadableFrame: The joints or weights of the vertices break the specification.
    """
    joints, weights = found.influences(len(positions))
    if joints.size and (joints.min() < 0 or int(joints.max(where=weights > 0, initial=0)) >= len(skin)):
        raise broken("a vertex is bound to a joint that its skin doesn't have")
    return skinned(positions, normals, joints, weights, skin)
