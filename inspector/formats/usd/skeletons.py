"""Posing meshes that are moved by a skeleton or by blend shapes. Source: OpenUSD, API documentation of UsdSkel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from inspector.arrays import Floats
from inspector.formats.mesh import LeftOut, Mesh, Numbers
from inspector.formats.problems import UnreadableFrame
from inspector.formats.skinning import skinned
from inspector.names import safe


class Skeletons:
    """The skeletons of a stage, and the meshes bound to them."""

    def __init__(self, stage: Any) -> None:
        from pxr import Usd, UsdSkel

        self._cache = UsdSkel.Cache()
        self._any = False
        for prim in stage.Traverse(Usd.TraverseInstanceProxies()):
            if prim.IsA(UsdSkel.Root):
                self._any = True
                self._cache.Populate(UsdSkel.Root(prim), Usd.TraverseInstanceProxies())

    def moves(self, prim: Any) -> bool:
        """Return whether a mesh is moved by a skeleton or by blend shapes."""
        if not self._any:
            return False
        query = self._cache.GetSkinningQuery(prim)
        return bool(query) and (query.HasJointInfluences() or query.HasBlendShapes())

    def samples(self, prim: Any) -> Iterator[float]:
        """Yield the times at which the animation of a mesh's skeleton has a sample."""
        skeleton = self._skeleton(prim)
        animation = skeleton.GetAnimQuery() if skeleton else None
        if animation:
            yield from animation.GetJointTransformTimeSamples()
            yield from animation.GetBlendShapeWeightTimeSamples()

    def posed(self, prim: Any, time: Any, mesh: Mesh, places: Any) -> tuple[Mesh, Floats | None]:
        """Pose a mesh by its skeleton and blend shapes.

        Args:
            prim: The mesh's prim.
            time: The Usd.TimeCode of the pose.
            mesh: The mesh at rest.
            places: The UsdGeom.XformCache for that time.

        Returns:
            The mesh, and the matrix from its space to the world, for column vectors, (4, 4). The matrix is None if the
            mesh is placed by the prim's transform.

        Raises:
            UnreadableFrame: The joints, weights or blend shapes of the mesh contradict each other, or don't fit the
                mesh.
        """
        query = self._cache.GetSkinningQuery(prim)
        skeleton = self._skeleton(prim)
        if not query or not skeleton:
            return mesh, None
        if query.HasBlendShapes():
            mesh = replace(mesh, positions=_blended(prim, query, skeleton, time, mesh.positions))
        if not query.HasJointInfluences():
            return mesh, None
        transforms = skeleton.ComputeSkinningTransforms(time)
        matrices = np.array(transforms, np.float64).reshape(-1, 4, 4).transpose(0, 2, 1)  # USD uses row vectors
        own = query.GetJointOrder()
        if own is not None:
            known = {str(name): number for number, name in enumerate(skeleton.GetJointOrder())}
            if not all(str(name) in known for name in own):
                raise _broken(prim, "the mesh is bound to joints that its skeleton doesn't have")
            matrices = matrices[[known[str(name)] for name in own]]
        matrices = matrices @ np.array(query.GetGeomBindTransform(time), np.float64).T
        joints, weights = _influences(prim, query, time, len(mesh.positions))
        if joints.size and (joints.min() < 0 or int(joints.max(where=weights > 0, initial=0)) >= len(matrices)):
            raise _broken(prim, "a point is bound to a joint that doesn't exist")
        fresh = _skinned_mesh(mesh, joints, weights, matrices)
        if query.GetSkinningMethod() == "dualQuaternion":
            loss = LeftOut(
                f"{safe(str(prim.GetPath()))}: dual quaternion skinning; linear skinning is used instead", seen=True
            )
            fresh = replace(fresh, left_out=(*fresh.left_out, loss))
        return fresh, np.array(places.GetLocalToWorldTransform(skeleton.GetPrim())).T

    def _skeleton(self, prim: Any) -> Any:
        from pxr import UsdSkel

        bound = UsdSkel.BindingAPI(prim).GetInheritedSkeleton()
        return self._cache.GetSkelQuery(bound) if bound else None


def _skinned_mesh(mesh: Mesh, joints: Any, weights: Any, matrices: Floats) -> Mesh:
    """Move the points and normals of a mesh as its joints move. A normal moves with the point of the first corner that
    uses the normal.
    """
    positions, _ = skinned(mesh.positions, None, joints, weights, matrices)
    corners = mesh.corners
    lit = np.flatnonzero((corners.vn >= 0) & (corners.vn < len(mesh.normals)) & (corners.v < len(mesh.positions)))
    if not len(lit):
        return replace(mesh, positions=positions)
    point_of = np.full(len(mesh.normals), -1, np.int64)
    point_of[corners.vn[lit[::-1]]] = corners.v[lit[::-1]]
    used = np.flatnonzero(point_of >= 0)
    at = point_of[used]
    _, turned = skinned(mesh.positions[at], mesh.normals[used], joints[at], weights[at], matrices)
    normals = mesh.normals.astype(np.float64)
    normals[used] = turned
    return replace(mesh, positions=positions, normals=normals)


def _influences(prim: Any, query: Any, time: Any, points: int) -> tuple[Any, Any]:
    """Read the joints and weights of each point.

    Returns:
        Indices of joints, and their weights, both (points, k).

    Raises:
        UnreadableFrame: The joints and weights contradict each other, or don't fit the points.
    """
    width = query.GetNumInfluencesPerComponent()
    joints = np.asarray(query.GetJointIndicesPrimvar().ComputeFlattened(time), np.int64)
    weights = np.asarray(query.GetJointWeightsPrimvar().ComputeFlattened(time), np.float64)
    if width < 1 or len(joints) != len(weights) or len(joints) % width:
        raise _broken(prim, "the joints of the mesh don't match the weights")
    joints, weights = joints.reshape(-1, width), weights.reshape(-1, width)
    if query.IsRigidlyDeformed() and len(joints) == 1:
        return np.repeat(joints, points, axis=0), np.repeat(weights, points, axis=0)
    if len(joints) != points:
        raise _broken(prim, "the mesh doesn't have joints and weights for every point")
    return joints, weights


def _blended(prim: Any, query: Any, skeleton: Any, time: Any, positions: Numbers) -> Numbers:
    """Apply the blend shapes, including in-between shapes, to the points of a mesh, (n, 3).

    Raises:
        UnreadableFrame: A blend shape doesn't fit the points.
    """
    from pxr import UsdSkel, Vt

    animation = skeleton.GetAnimQuery()
    weights = animation.ComputeBlendShapeWeights(time) if animation else None
    if weights is None:
        return positions
    given = dict(zip(map(str, animation.GetBlendShapeOrder()), weights, strict=False))
    own = [float(given.get(str(name), 0.0)) for name in query.GetBlendShapeOrder()]
    shapes = UsdSkel.BlendShapeQuery(UsdSkel.BindingAPI(prim))
    if not any(own) or shapes.GetNumBlendShapes() != len(own):
        return positions
    shares, numbers, subs = shapes.ComputeSubShapeWeights(Vt.FloatArray(own))
    indices, offsets = shapes.ComputeBlendShapePointIndices(), shapes.ComputeSubShapePointOffsets()
    moved = positions.astype(np.float64)
    for share, number, sub in zip(shares, numbers, subs, strict=True):
        added = np.asarray(offsets[sub], np.float64).reshape(-1, 3)
        at = np.asarray(indices[number], np.int64)
        at = at if len(at) else np.arange(len(added))
        if len(at) != len(added) or (len(at) and (at.min() < 0 or int(at.max()) >= len(moved))):
            raise _broken(prim, "a blend shape doesn't fit the points of the mesh")
        np.add.at(moved, at, share * added)
    return moved


def _broken(prim: Any, reason: str) -> UnreadableFrame:
    return UnreadableFrame("broken-form", reason=f"{prim.GetPath()}: {reason}")
