"""A stage as an animation: its meshes by path, its frames, and one mesh of all of them for each frame."""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from inspector.arrays import Floats
from inspector.formats.animation import SceneMesh, Take
from inspector.formats.mesh import Mesh, join_meshes, placed
from inspector.formats.problems import UnreadableFrame
from inspector.formats.usd.geometry import read_geometry
from inspector.formats.usd.materials import MaterialTable
from inspector.formats.usd.stage import open_stage

_MOST_FRAMES = 1_000_000
"""Eleven hours at 24 frames per second. A stage that states more is damaged, and a list of its frames fills memory."""

_MOST_PRIMS = 200_000
"""Prims that are visited in a stage. Instances inside instances multiply: a small file may stand for billions."""


class StageAnimation:
    """A stage, as `Animation` has it. frames: whole time codes of the stage's range, else of its samples; one for a
    stage that stands still."""

    def __init__(self, path: Path, rate: Fraction | None = None) -> None:
        """rate: frames per second, if the user states it. Raises MeshqcError without the library, UnreadableFrame."""
        self._stage = open_stage(path)
        from pxr import UsdGeom

        self._table = MaterialTable(Path(os.path.realpath(path.parent)))
        self._prims = list(_mesh_prims(self._stage))
        self.meshes = tuple(_listed(prim) for prim in self._prims)
        self.metres: float | None = UsdGeom.GetStageMetersPerUnit(self._stage)
        self.up: str | None = str(UsdGeom.GetStageUpAxis(self._stage)).lower()
        own = Fraction(self._stage.GetTimeCodesPerSecond()).limit_denominator(1001)
        self.rate, self.rate_source = (own, "file") if rate is None else (rate, "stated")
        self.frames = _frames(self._stage, self._prims)
        self.sub_frames: tuple[Fraction, ...] = ()
        self.notes = tuple(_notes(self._stage, self._prims))
        self.left_out: Counter[str] = Counter()

    def mesh(self, number: Fraction, take: Take) -> Mesh:
        """All meshes that are taken and seen at that time, in world space. Raises UnreadableFrame without any."""
        from pxr import Usd, UsdGeom

        time = Usd.TimeCode(float(number))
        constant = take.constant
        places = UsdGeom.XformCache(time)
        pieces = []
        for prim, listed in zip(self._prims, self.meshes, strict=True):
            if not take.takes(listed.path):
                continue
            if UsdGeom.Imageable(prim).ComputeVisibility(time) == UsdGeom.Tokens.invisible:
                continue
            mesh = read_geometry(prim, time)
            mesh = replace(mesh, parts=self._table.parts(prim, len(mesh.corners.sizes), time))
            world: Floats = np.array(places.GetLocalToWorldTransform(prim)).T  # USD's vectors are rows
            pieces.append(placed(mesh, constant @ world))
        if not pieces:
            raise UnreadableFrame("no-mesh")
        return join_meshes(pieces, self._table.materials)

    def box(self, number: Fraction, take: Take) -> Floats | None:
        """The box of the frame's points, (2, 3); None without any."""
        try:
            positions = self.mesh(number, take).positions
        except UnreadableFrame:
            return None
        return np.array([positions.min(axis=0), positions.max(axis=0)], np.float64) if len(positions) else None


def _listed(prim: Any) -> SceneMesh:
    from pxr import UsdGeom

    cage = UsdGeom.Mesh(prim).GetSubdivisionSchemeAttr().Get() != UsdGeom.Tokens.none
    return SceneMesh(str(prim.GetPath()), "cage" if cage else "mesh")


def _mesh_prims(stage: Any) -> Iterator[Any]:
    """Meshes that a picture shows: not those of proxies and guides (UsdGeomImageable, "purpose")."""
    from pxr import Usd, UsdGeom

    purposes = (UsdGeom.Tokens.default_, UsdGeom.Tokens.render)
    for visited, prim in enumerate(stage.Traverse(Usd.TraverseInstanceProxies())):
        if visited >= _MOST_PRIMS:
            raise UnreadableFrame("not-supported", reason=f"more than {_MOST_PRIMS:,} prims, instances counted")
        if prim.IsA(UsdGeom.Mesh) and UsdGeom.Imageable(prim).ComputePurpose() in purposes:
            yield prim


def _frames(stage: Any, prims: Sequence[Any]) -> tuple[Fraction, ...]:
    if stage.HasAuthoredTimeCodeRange():
        first, last = stage.GetStartTimeCode(), stage.GetEndTimeCode()
    else:
        times = [time for prim in prims for time in _samples(prim)]
        first, last = (min(times), max(times)) if times else (1.0, 1.0)
    if not (math.isfinite(first) and math.isfinite(last)):
        raise UnreadableFrame("broken-form", reason="the range of time codes is not finite")
    whole = range(math.ceil(first), math.floor(last) + 1)
    if len(whole) > _MOST_FRAMES:
        raise UnreadableFrame("not-supported", reason=f"a range of {len(whole):,} frames; {_MOST_FRAMES:,} are read")
    return tuple(map(Fraction, whole))


def _samples(prim: Any) -> Iterator[float]:
    """Times at which the mesh, or something above it, is given again."""
    from pxr import UsdGeom

    for attribute in prim.GetAttributes():
        yield from attribute.GetTimeSamples()
    above = prim.GetParent()
    while above and not above.IsPseudoRoot():
        yield from UsdGeom.Xformable(above).GetTimeSamples() if above.IsA(UsdGeom.Xformable) else ()
        above = above.GetParent()


def _notes(stage: Any, prims: Sequence[Any]) -> Iterator[str]:
    """What the frames will not have, so that nobody finds out later."""
    from pxr import Usd, UsdGeom, UsdSkel

    cages = sum(UsdGeom.Mesh(prim).GetSubdivisionSchemeAttr().Get() != UsdGeom.Tokens.none for prim in prims)
    if cages:
        yield f"{cages} of {len(prims)} meshes are subdivision surfaces; their cages are taken, as they are"
    if any(prim.HasAPI(UsdSkel.BindingAPI) for prim in prims):
        yield "a skeleton moves some meshes; it is not followed, their rest pose is taken"
    others = {
        str(prim.GetTypeName())
        for prim in stage.Traverse(Usd.TraverseInstanceProxies())
        if prim.IsA(UsdGeom.PointInstancer) or (prim.IsA(UsdGeom.Gprim) and not prim.IsA(UsdGeom.Mesh))
    }
    if others:
        yield f"not taken, since they are not meshes: {', '.join(sorted(others))}"
