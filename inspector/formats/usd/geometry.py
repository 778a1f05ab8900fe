"""Reading one mesh of a stage at a given time. Source: OpenUSD, API documentation of UsdGeomMesh and UsdGeomPrimvar."""

from __future__ import annotations

from typing import Any

import numpy as np

from inspector.formats.frame import ABSENT, Corners
from inspector.formats.mesh import (
    LeftOut,
    Mesh,
    Numbers,
    Offsets,
    corners_of,
    distinct_rows,
    legal,
    mirrored,
    offsets_of,
)
from inspector.formats.problems import UnreadableFrame
from inspector.formats.usd.materials import Bound

_UV_NAMES = ("st", "UVMap", "uv", "map1")
"""Usual names of UV sets, in order of preference: `st` with UsdPreviewSurface, other names from some exporters (common
practice, no source).
"""
_UV_WIDTHS = {
    **dict.fromkeys(("texCoord2f[]", "texCoord2d[]", "texCoord2h[]", "float2[]", "double2[]", "half2[]"), 2),
    **dict.fromkeys(("texCoord3f[]", "texCoord3d[]", "texCoord3h[]"), 3),
}
"""Number of components per UV, by the type of the primvar. Types with three plain floats are not included, because
their values may be velocities."""


def uv_sets(prim: Any, bound: Bound) -> list[str]:
    """Return the names of a mesh's UV sets: first those that its materials read, then those with usual names, then all
    others. The first set is the main set.

    Args:
        prim: The mesh's prim.
        bound: The materials of the mesh.
    """
    return list(_uv_primvars(prim, bound))


def _uv_primvars(prim: Any, bound: Bound) -> dict[str, Any]:
    """Return the UV sets of a mesh, keyed by name, with the main set first."""
    from pxr import UsdGeom

    primvars = UsdGeom.PrimvarsAPI(prim)
    named = [primvars.FindPrimvarWithInheritance(name) for name in (*bound.read_sets, *_UV_NAMES)]
    found = [one for one in [*named, *primvars.FindPrimvarsWithInheritance()] if one and one.HasValue()]
    return {str(one.GetPrimvarName()): one for one in found if str(one.GetTypeName()) in _UV_WIDTHS}


def read_geometry(prim: Any, time: Any, bound: Bound, uv_set: str | None = None) -> Mesh:
    """Read a mesh in its own space: positions, faces, UVs, normals, colours and parts.

    Args:
        prim: The mesh's prim.
        time: The Usd.TimeCode.
        bound: The materials of the mesh at that time.
        uv_set: Name of the UV set; None for the main set. A mesh without this set gets no UVs.

    Raises:
        UnreadableFrame: Arrays of the mesh contradict each other, or have a type that the format doesn't allow.
    """
    from pxr import UsdGeom

    mesh = UsdGeom.Mesh(prim)
    positions = _rows(mesh.GetPointsAttr().Get(time), 3, f"{prim.GetPath()}: points")
    sizes = _whole(mesh.GetFaceVertexCountsAttr().Get(time), f"{prim.GetPath()}: faceVertexCounts")
    v = _whole(mesh.GetFaceVertexIndicesAttr().Get(time), f"{prim.GetPath()}: faceVertexIndices")
    if (sizes < 0).any() or sizes.sum() != len(v):
        raise UnreadableFrame(
            "broken-form", reason=f"{prim.GetPath()}: faceVertexCounts and faceVertexIndices contradict each other"
        )
    offsets = offsets_of(sizes)
    bare = corners_of(offsets, legal(v, len(positions)))
    losses = list(bound.losses)
    uvs, vt = _uvs(prim, time, bare, bound, uv_set, losses)
    normals, vn = _normals(mesh, time, bare)
    colours = _colours(prim, time, len(positions), bound, losses)
    corners = corners_of(offsets, bare.v, vt, vn)
    if mesh.GetOrientationAttr().Get(time) == UsdGeom.Tokens.leftHanded:
        corners = mirrored(corners)
    double = bool(mesh.GetDoubleSidedAttr().Get(time))
    return Mesh(positions, corners, uvs, normals, bound.parts, (), colours, tuple(losses), double)


def _uvs(
    prim: Any, time: Any, corners: Corners, bound: Bound, uv_set: str | None, losses: list[LeftOut]
) -> tuple[Numbers, Offsets | None]:
    """Read the UVs, (m, 2), and the index of each corner's UV, (c,). The latter is None if there are no UVs."""
    from pxr import UsdGeom

    found = _uv_primvars(prim, bound)
    primvar = found.get(uv_set) if uv_set is not None else next(iter(found.values()), None)
    if primvar is None:
        return np.zeros((0, 2), np.float32), None
    if set(bound.read_sets) & found.keys() - {str(primvar.GetPrimvarName())}:
        losses.append(LeftOut("a UV set that a material reads; only one set per mesh is kept", seen=True))
    width = _UV_WIDTHS[str(primvar.GetTypeName())]
    values = _rows(primvar.Get(time), width, f"{prim.GetPath()}: {primvar.GetPrimvarName()}")
    if values[:, 2:].any():
        losses.append(LeftOut("the third coordinate of UVs"))
    values = values[:, :2]
    index, values = _index(primvar, time, corners, values)
    if not primvar.IsIndexed() and primvar.GetInterpolation() == UsdGeom.Tokens.faceVarying and len(values):
        values, distinct = distinct_rows(values)
        index = np.append(distinct, len(values))[np.minimum(index, len(distinct))]
    return _transformed(values, index, corners, bound)


def _transformed(values: Numbers, index: Offsets, corners: Corners, bound: Bound) -> tuple[Numbers, Offsets]:
    """Apply the UV transform of each face's material. Return the UVs, and the index of each corner's UV."""
    if all(layout.still for layout in bound.layouts):
        return values, index
    of_corner = bound.layout_of_face[corners.face_of_corner()]
    shifted = np.where(index == ABSENT, ABSENT, index + len(values) * of_corner)
    return np.concatenate([layout.applied(values) for layout in bound.layouts]), shifted


def _normals(mesh: Any, time: Any, corners: Corners) -> tuple[Numbers, Offsets | None]:
    """Read the normals. `primvars:normals` takes precedence over `normals` (UsdGeomPointBased).

    Returns:
        The normals, (k, 3), and the index of each corner's normal, (c,). The latter is None if there are no normals.
    """
    from pxr import UsdGeom

    path = mesh.GetPath()
    primvar = UsdGeom.PrimvarsAPI(mesh.GetPrim()).GetPrimvar("normals")
    if primvar and primvar.HasValue():
        values = _rows(primvar.Get(time), 3, f"{path}: normals")
        index, values = _index(primvar, time, corners, values)
        return values, index
    values = _rows(mesh.GetNormalsAttr().Get(time), 3, f"{path}: normals")
    if not len(values):
        return values, None
    return values, legal(_places(str(mesh.GetNormalsInterpolation()), corners), len(values))


def _colours(prim: Any, time: Any, count: int, bound: Bound, losses: list[LeftOut]) -> Numbers:
    """Read `displayColor` as one colour per point, (count, 3); empty if there are no such colours. Colours per face or
    per corner are left out. A single colour is used only if some faces of the mesh have no material.
    """
    from pxr import UsdGeom

    gprim = UsdGeom.Gprim(prim)
    bare = any(part.material is None for part in bound.parts)
    opacity = gprim.GetDisplayOpacityAttr().Get(time)
    if bare and opacity is not None and len(opacity) and min(opacity) < 1:
        losses.append(LeftOut("opacity (displayOpacity)", seen=True))
    primvar = UsdGeom.PrimvarsAPI(prim).FindPrimvarWithInheritance("displayColor")
    if not primvar or not primvar.HasValue():
        return np.zeros((0, 3))
    values = _rows(primvar.Get(time), 3, f"{prim.GetPath()}: displayColor")
    kind = str(primvar.GetInterpolation())
    if kind in ("uniform", "faceVarying") and len(values) > 1:
        losses.append(LeftOut("colours per face or per corner (displayColor)", seen=bare))
        return np.zeros((0, 3))
    if kind == "constant" or len(values) == 1:
        return np.repeat(values[:1], count, axis=0) if bare and len(values) else np.zeros((0, 3))
    index = np.arange(count)
    if primvar.IsIndexed():
        index = _whole(primvar.GetIndices(time), f"{prim.GetPath()}: displayColor")
    if len(index) != count or (count and (index.min() < 0 or index.max() >= len(values))):
        losses.append(LeftOut("colours that don't match the points (displayColor)", seen=bare))
        return np.zeros((0, 3))
    return values[index]


def _index(primvar: Any, time: Any, corners: Corners, values: Numbers) -> tuple[Offsets, Numbers]:
    """Find the value of each corner in a primvar.

    Returns:
        The index of each corner's value, (c,), and the values. The index is ABSENT for a corner whose value is not
        authored (`unauthoredValuesIndex`). An invalid index is replaced with the number of values. If the first value
        is reserved for corners without an authored value, the first value is removed.
    """
    places = _places(str(primvar.GetInterpolation()), corners)
    count = len(values)
    if not primvar.IsIndexed():
        return legal(places, count), values
    indices = _whole(primvar.GetIndices(time), str(primvar.GetPrimvarName()))
    index = legal(np.append(indices, count)[legal(places, len(indices))], count)
    absent = primvar.GetUnauthoredValuesIndex()
    if absent < 0:
        return index, values
    index = np.where(index == absent, ABSENT, index)
    if absent == 0:  # exporters reserve index 0 for corners without an authored value
        return np.where(index == ABSENT, ABSENT, index - 1), values[1:]
    return index, values


def _places(interpolation: str, corners: Corners) -> Offsets:
    """Return the index of the element whose value each corner uses, (c,) (UsdGeomPrimvar, "Interpolation of geometric
    primvars").
    """
    match interpolation:
        case "constant":
            return np.zeros(len(corners.v), np.int64)
        case "uniform":
            return corners.face_of_corner()
        case "faceVarying":
            return np.arange(len(corners.v))
        case _:  # vertex and varying are the same for polygons
            return corners.v.astype(np.int64)


def _rows(values: Any, width: int, what: str) -> Numbers:
    """Convert values from usd-core to rows, (n, width): float64 if the file has float64, otherwise float32.

    Raises:
        UnreadableFrame: The type is not allowed. The message begins with `what`.
    """
    if values is None:
        return np.zeros((0, width), np.float32)
    array = np.asarray(values)
    if array.size == 0:
        return np.zeros((0, width), np.float32)
    if array.dtype.kind not in "fiu" or array.ndim != 2 or array.shape[1] != width:
        raise UnreadableFrame("broken-form", reason=f"{what}: the type of the values is not allowed by the format")
    return array.astype(np.float64 if array.dtype.itemsize > 4 else np.float32)


def _whole(values: Any, what: str) -> Offsets:
    """Convert values from usd-core to whole numbers, (n,).

    Raises:
        UnreadableFrame: The type is not allowed. The message begins with `what`.
    """
    array = np.zeros(0, np.int64) if values is None else np.asarray(values)
    if array.size and (array.dtype.kind not in "iu" or array.ndim != 1):
        raise UnreadableFrame("broken-form", reason=f"{what}: the type of the values is not allowed by the format")
    return array.astype(np.int64).reshape(-1)
