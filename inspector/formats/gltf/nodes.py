"""The nodes of a glTF document, which place the meshes of the scene.

Source: Khronos, glTF 2.0 specification: 3.5, 3.7.3.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.formats.gltf.document import Document, broken, entries, entry, extension, numbers, value, whole_numbers

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MeshUse:
    """The use of a mesh by a node.

    Attributes:
        mesh: Index of the mesh in the document.
        node: The node.
        world: Matrix from the node's space to the world, for column vectors, (4, 4).
    """

    mesh: int
    node: Document
    world: Matrix


class Nodes:
    """The nodes of a document, and their world matrices."""

    def __init__(self, document: Document) -> None:
        """Check that every node has at most one parent; otherwise, a few nodes could expand to billions.

        Raises:
            UnreadableFrame: A node has two parents, is its own child, or has a child that doesn't exist.
        """
        self._document = document
        self._all = entries(document, "nodes")
        self._parents: dict[int, int] = {}
        for number, node in enumerate(self._all):
            for child in whole_numbers(node, "children"):
                entry(document, "nodes", child)
                if child in self._parents or child == number:
                    raise broken(
                        "a node has two parents or is its own ancestor (specification 3.5.2: nodes form strict trees)"
                    )
                self._parents[child] = number
        self._worlds: dict[int, Matrix] = {}

    def meshes(self) -> Iterator[MeshUse]:
        """Yield every visible use of a mesh in the scene (without a scene, in all nodes), in the order of the document.

        Nodes marked as invisible hide all nodes below them (KHR_node_visibility).

        Raises:
            UnreadableFrame: The document breaks the specification.
        """
        seen: set[int] = set()
        pending = self._roots()[::-1]
        while pending:
            number = pending.pop()
            if number in seen:
                raise broken("the scene contains a node twice")
            seen.add(number)
            node = entry(self._document, "nodes", number)
            shown = extension(node, "KHR_node_visibility") or {}
            if not value(shown, "visible", bool, True):
                continue
            if "mesh" in node:
                entry(self._document, "meshes", node["mesh"])
                yield MeshUse(node["mesh"], node, self.world(number))
            pending += whole_numbers(node, "children")[::-1]

    def _roots(self) -> list[int]:
        if entries(self._document, "scenes"):
            return whole_numbers(entry(self._document, "scenes", self._document.get("scene", 0)), "nodes")
        return [number for number in range(len(self._all)) if number not in self._parents]

    def world(self, number: int) -> Matrix:
        """Return the matrix from a node's space to the world, for column vectors, (4, 4).

        Raises:
            UnreadableFrame: A node is its own ancestor.
        """
        above: list[int] = []
        at: int | None = number
        while at is not None and at not in self._worlds:
            above.append(at)
            at = self._parents.get(at)
            if len(above) > len(self._all):
                raise broken("a node is its own ancestor (specification 3.5.2: nodes form strict trees)")
        world = np.eye(4) if at is None else self._worlds[at]
        for below in reversed(above):
            world = self._worlds[below] = world @ _local(entry(self._document, "nodes", below))
        return world


def _local(node: Document) -> Matrix:
    """Return the matrix of a node relative to its parent (glTF 2.0, 3.5.3).

    Raises:
        UnreadableFrame: A value of the node is not a list of numbers with the right length.
    """
    if "matrix" in node:
        return np.array(numbers(node, "matrix", tuple(np.eye(4).ravel()))).reshape(4, 4).T
    x, y, z, w = numbers(node, "rotation", (0, 0, 0, 1))
    length = x * x + y * y + z * z + w * w
    matrix = np.eye(4)
    if length > 0:
        s = 2 / length
        matrix[:3, :3] = [
            [1 - s * (y * y + z * z), s * (x * y - z * w), s * (x * z + y * w)],
            [s * (x * y + z * w), 1 - s * (x * x + z * z), s * (y * z - x * w)],
            [s * (x * z - y * w), s * (y * z + x * w), 1 - s * (x * x + y * y)],
        ]
    matrix[:3, :3] *= numbers(node, "scale", (1, 1, 1))
    matrix[:3, 3] = numbers(node, "translation", (0, 0, 0))
    return matrix
