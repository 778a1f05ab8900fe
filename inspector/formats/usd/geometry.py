"""One mesh of a stage at one time. Source: OpenUSD, API documents of UsdGeomMesh and UsdGeomPrimvar."""

from __future__ import annotations

from typing import Any

import numpy as np

from inspector.formats.frame import Corners
from inspector.formats.mesh import Mesh, Numbers, Offsets, corners_of, distinct_rows, legal, mirrored, offsets_of
from inspector.formats.problems import UnreadableFrame

_UV_NAMES = ("st", "UVMap", "uv", "map1")
"""`st` is UsdPreviewSurface's usual name; the others are writers' own (common practice, no source)."""
_UV_TYPES = ("texCoord2f[]", "texCoord2d[]", "texCoord2h[]", "float2[]", "double2[]")


def read_geometry(prim: Any, time: Any) -> Mesh:
    """Positions, faces, UVs and normals of a UsdGeom.Mesh in its own space, without parts. Raises UnreadableFrame."""
    from pxr import UsdGeom

    mesh = UsdGeom.Mesh(prim)
    positions = _array(mesh.GetPointsAttr().Get(time), np.float32).reshape(-1, 3)
    sizes = _array(mesh.GetFaceVertexCountsAttr().Get(time), np.int64)
    v = _array(mesh.GetFaceVertexIndicesAttr().Get(time), np.int64)
    if (sizes < 0).any() or sizes.sum() != len(v):
        raise UnreadableFrame(
            "broken-form", reason=f"{prim.GetPath()}: faceVertexCounts and faceVertexIndices disagree"
        )
    offsets = offsets_of(sizes)
    bare = corners_of(offsets, legal(v, len(positions)))
    uvs, vt = _uvs(prim, time, bare)
    normals, vn = _normals(mesh, time, bare)
    corners = corners_of(offsets, bare.v, vt, vn)
    if mesh.GetOrientationAttr().Get(time) == UsdGeom.Tokens.leftHanded:
        corners = mirrored(corners)
    return Mesh(positions, corners, uvs, normals)


def _uvs(prim: Any, time: Any, corners: Corners) -> tuple[Numbers, Offsets | None]:
    """The UVs and every corner's index; values that are not indexed in the file are distinguished by value."""
    from pxr import UsdGeom

    primvars = UsdGeom.PrimvarsAPI(prim)
    named = [primvars.FindPrimvarWithInheritance(name) for name in _UV_NAMES]
    found = [one for one in [*named, *primvars.FindPrimvarsWithInheritance()] if one and one.HasValue()]
    primvar = next((one for one in found if str(one.GetTypeName()) in _UV_TYPES), None)
    if primvar is None:
        return np.zeros((0, 2), np.float32), None
    values = _array(primvar.Get(time), np.float32).reshape(-1, 2)
    index = _index(primvar, time, corners, len(values))
    if not primvar.IsIndexed() and primvar.GetInterpolation() == UsdGeom.Tokens.faceVarying and len(values):
        values, distinct = distinct_rows(values)
        index = np.append(distinct, len(values))[np.minimum(index, len(distinct))]
    return values, index


def _normals(mesh: Any, time: Any, corners: Corners) -> tuple[Numbers, Offsets | None]:
    """`primvars:normals` goes before `normals` (UsdGeomPointBased)."""
    from pxr import UsdGeom

    primvar = UsdGeom.PrimvarsAPI(mesh.GetPrim()).GetPrimvar("normals")
    if primvar and primvar.HasValue():
        values = _array(primvar.Get(time), np.float32).reshape(-1, 3)
        return values, _index(primvar, time, corners, len(values))
    values = _array(mesh.GetNormalsAttr().Get(time), np.float32).reshape(-1, 3)
    if not len(values):
        return values, None
    return values, legal(_places(str(mesh.GetNormalsInterpolation()), corners), len(values))


def _index(primvar: Any, time: Any, corners: Corners, count: int) -> Offsets:
    """Which of the primvar's `count` values each corner has; `count` itself where there is none."""
    places = _places(str(primvar.GetInterpolation()), corners)
    if primvar.IsIndexed():
        indices = _array(primvar.GetIndices(time), np.int64)
        places = np.append(indices, count)[legal(places, len(indices))]
    return legal(places, count)


def _places(interpolation: str, corners: Corners) -> Offsets:
    """Element of each corner by the primvar's interpolation (UsdGeomPrimvar, "Interpolation of geometric primvars")."""
    match interpolation:
        case "constant":
            return np.zeros(len(corners.v), np.int64)
        case "uniform":
            return corners.face_of_corner()
        case "faceVarying":
            return np.arange(len(corners.v))
        case _:  # vertex and varying are one for polygons
            return corners.v.astype(np.int64)


def _array(values: Any, dtype: Any) -> Any:
    """Values of the library as an array of their own kind of number, at least as wide as `dtype`'s kind needs."""
    if values is None:
        return np.zeros(0, dtype)
    array = np.asarray(values)
    if np.issubdtype(dtype, np.floating):
        return array.astype(np.float64 if array.dtype.itemsize > 4 else np.float32)
    return array.astype(dtype)
