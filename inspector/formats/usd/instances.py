"""The copies that instancers make of their prototypes. Source: OpenUSD, API documentation of UsdGeomPointInstancer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from inspector.arrays import Floats
from inspector.formats.problems import UnreadableFrame

_MOST_COPIES = 200_000
"""Maximum number of mesh copies in a frame. Even a small file can define billions of copies."""


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy of a prototype's mesh at one instance.

    Attributes:
        instancer: The prim of the instancer.
        prim: The prim of the mesh.
        world: Matrix from the mesh's space to the world, for column vectors, (4, 4).
    """

    instancer: Any
    prim: Any
    world: Floats


def copies(instancers: Sequence[Any], time: Any, places: Any) -> Iterator[Copy]:
    """Yield all meshes of all visible instances. Instancers inside prototypes make no copies.

    Args:
        instancers: Prims of type UsdGeom.PointInstancer.
        time: The Usd.TimeCode.
        places: The UsdGeom.XformCache for that time.

    Raises:
        UnreadableFrame: The arrays of an instancer contradict each other, or there are too many copies.
    """
    from pxr import UsdGeom

    made = 0
    for prim in instancers:
        instancer = UsdGeom.PointInstancer(prim)
        include, mask = UsdGeom.PointInstancer.IncludeProtoXform, UsdGeom.PointInstancer.ApplyMask
        matrices = np.array(instancer.ComputeInstanceTransformsAtTime(time, time, include, mask), np.float64)
        numbers = instancer.GetProtoIndicesAttr().Get(time) or ()
        shown = instancer.ComputeMaskAtTime(time)
        numbers = [number for at, number in enumerate(numbers) if not shown or shown[at]]
        roots = [prim.GetStage().GetPrimAtPath(path) for path in instancer.GetPrototypesRel().GetForwardedTargets()]
        if len(matrices) != len(numbers) or any(not 0 <= number < len(roots) for number in numbers):
            raise UnreadableFrame("broken-form", reason=f"{prim.GetPath()}: the instance arrays contradict each other")
        below = np.array(places.GetLocalToWorldTransform(prim)).T
        meshes = {number: _meshes(roots[number], places) for number in set(numbers)}
        made += sum(len(meshes[number]) for number in numbers)
        if made > _MOST_COPIES:
            raise UnreadableFrame("not-supported", reason=f"more than {_MOST_COPIES:,} mesh copies in a frame")
        for number, matrix in zip(numbers, matrices, strict=True):
            for mesh, local in meshes[number]:
                yield Copy(prim, mesh, below @ matrix.T @ local)


def _meshes(root: Any, places: Any) -> list[tuple[Any, Floats]]:
    """Find the meshes of a prototype. Each mesh is paired with its matrix relative to the prototype's root."""
    from pxr import Usd, UsdGeom

    if not root:
        return []
    found = []
    inverse = np.linalg.inv(np.array(places.GetLocalToWorldTransform(root)).T)
    for prim in Usd.PrimRange(root, Usd.TraverseInstanceProxies()):
        if prim.IsA(UsdGeom.Mesh):
            found.append((prim, inverse @ np.array(places.GetLocalToWorldTransform(prim)).T))
    return found
