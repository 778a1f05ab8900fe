"""The copies that instancers make of their prototypes. Source: OpenUSD, API documentation of UsdGeomPointInstancer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from inspector.arrays import Floats
from inspector.formats.problems import UnreadableFrame

_MOST_COPIES = 200_000
"""Maximum number of mesh copies in a frame. Without a limit, a small file could define billions."""


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
        meshes = {number: _meshes(roots[number], time, places) for number in set(numbers)}
        made += sum(len(meshes[number]) for number in numbers)
        if made > _MOST_COPIES:
            raise UnreadableFrame("not-supported", reason=f"more than {_MOST_COPIES:,} mesh copies in a frame")
        for number, matrix in zip(numbers, matrices, strict=True):
            for mesh, local in meshes[number]:
                yield Copy(prim, mesh, below @ matrix.T @ local)


def is_for_pictures(prim: Any) -> bool:
    """Return whether the purpose of a prim (OpenUSD, UsdGeomImageable) allows it to be visible in a picture."""
    from pxr import UsdGeom

    return UsdGeom.Imageable(prim).ComputePurpose() in (UsdGeom.Tokens.default_, UsdGeom.Tokens.render)


def _meshes(root: Any, time: Any, places: Any) -> list[tuple[Any, Floats]]:
    """Find the visible meshes of a prototype, each with its matrix relative to the prototype's root.

    The visibility of the root has no effect on the copies, as in usd-core's UsdGeomBBoxCache.
    """
    from pxr import Usd, UsdGeom

    if not root:
        return []
    found = []
    inverse = np.linalg.inv(np.array(places.GetLocalToWorldTransform(root)).T)
    walk = iter(Usd.PrimRange(root, Usd.TraverseInstanceProxies()))
    for prim in walk:
        hidden = prim.IsA(UsdGeom.Imageable) and (
            UsdGeom.Imageable(prim).GetVisibilityAttr().Get(time) == UsdGeom.Tokens.invisible
        )
        if hidden and prim != root:
            walk.PruneChildren()
        elif prim.IsA(UsdGeom.Mesh) and is_for_pictures(prim):
            found.append((prim, inverse @ np.array(places.GetLocalToWorldTransform(prim)).T))
    return found
