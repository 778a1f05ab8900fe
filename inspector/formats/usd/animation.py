"""Reading a stage as an animation. The selected, visible meshes of each frame are joined into one mesh."""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from inspector.arrays import Floats
from inspector.formats.animation import MOST_FRAMES, Opening, SceneMesh, Take, other_uv_sets
from inspector.formats.mesh import LeftOut, Mesh, join_meshes, placed
from inspector.formats.problems import UnreadableFrame
from inspector.formats.usd.geometry import read_geometry, uv_sets
from inspector.formats.usd.instances import copies, is_for_pictures
from inspector.formats.usd.materials import Bound, MaterialTable
from inspector.formats.usd.skeletons import Skeletons
from inspector.formats.usd.stage import open_stage
from inspector.names import counted, safe

_MOST_PRIMS = 200_000
"""Maximum number of prims to visit in a stage. Nested instances can expand to billions of prims."""

_CENTIMETRE = 0.01  # UsdGeomLinearUnits, the fallback of metersPerUnit


@dataclass(frozen=True)
class _Contents:
    """The readable prims of a stage, and the types of the prims that are left out.

    Attributes:
        meshes: Meshes that may be visible, except the prototypes of instancers.
        instancers: Prims of the instancers.
        others: Types of the left-out geometric prims that are not meshes.
        unseen: Types of the left-out cameras and lights.
    """

    meshes: tuple[Any, ...]
    instancers: tuple[Any, ...]
    others: tuple[str, ...]
    unseen: tuple[str, ...]


class StageAnimation:
    """An open stage; see `Animation` for the attributes.

    The frames are the time codes in the stated range that are whole numbers. If no range is stated, the range of the
    samples is used. If the range contains no whole number, a static stage has one frame.
    """

    def __init__(self, path: Path, opening: Opening) -> None:
        """Open a stage.

        Args:
            path: Path of the file.
            opening: The options for opening the file.

        Raises:
            MeshqcError: usd-core is not installed, or a memory limit leaves too little memory for it.
            UnreadableFrame: The file can't be read, or needs a feature that is not supported.
        """
        folders = [Path(os.path.realpath(folder)) for folder in (path.parent, *opening.allowed)]
        opened = open_stage(path, folders)
        self._opened, self._stage = opened, opened.stage
        self._table = MaterialTable(folders)
        self._contents = _contents(self._stage)
        if opened.losses and not self._contents.meshes:
            raise UnreadableFrame("part-outside", reason=opened.losses[0].what)
        self._instances = opening.instances
        self._skeletons = Skeletons(self._stage)
        self.metres: float | None = _metres(self._stage)
        self.up: str | None = _up(self._stage)
        own = Fraction(self._stage.GetTimeCodesPerSecond()).limit_denominator(1001)
        self.rate, self.rate_source = (own, "file") if opening.rate is None else (opening.rate, "stated")
        self.frames, self.sub_frames = _frames(self._stage, self._contents, self._skeletons)
        self.meshes = tuple(self._listed(prim) for prim in self._contents.meshes)
        self.notes = (*opened.losses, *self._notes())
        self.left_out: Counter[LeftOut] = Counter()

    def mesh(self, number: Fraction, take: Take) -> Mesh:
        """Join all selected meshes that are visible in a frame, in world space.

        Broken meshes are left out and reported, as long as another mesh can be read.

        Args:
            number: The frame number, which is also the time code.
            take: The selection of meshes and UVs, and their conversion. `blend` has no effect, because usd-core always
                interpolates.

        Raises:
            UnreadableFrame: No selected mesh with points is visible in the frame, none of the visible meshes can be
                read, or the instances can't be expanded.
        """
        from pxr import Usd, UsdGeom

        time = Usd.TimeCode(float(number))
        places = UsdGeom.XformCache(time)
        pieces: list[Mesh] = []
        broken: list[UnreadableFrame] = []
        for prim, listed in zip(self._contents.meshes, self.meshes, strict=True):
            if take.takes(listed.path) and _visible(prim, time):
                self._add(pieces, broken, prim, time, places, None, take.uv_set)
        if self._instances:
            for copy in copies(self._contents.instancers, time, places):
                if take.takes(str(copy.instancer.GetPath())) and _visible(copy.instancer, time):
                    self._add(pieces, broken, copy.prim, time, places, copy.world, take.uv_set)
        if not pieces:
            raise broken[0] if broken else UnreadableFrame("no-mesh")
        losses = [
            *(LeftOut(error.words, seen=True) for error in broken),
            *(loss for one in pieces for loss in one.left_out),
        ]
        self.left_out.update(set(losses))  # a repeated loss counts once per frame
        whole = join_meshes([placed(piece, take.constant) for piece in pieces], self._table.materials)
        return replace(whole, double_sided=all(piece.double_sided for piece in pieces))

    def _add(
        self,
        pieces: list[Mesh],
        broken: list[UnreadableFrame],
        prim: Any,
        time: Any,
        places: Any,
        world: Floats | None,
        uv_set: str | None,
    ) -> None:
        """Add a mesh in world space to `pieces`, or its error to `broken`. `world` is the matrix if an instancer places
        the mesh, otherwise None.
        """
        try:
            piece = read_geometry(prim, time, self._bound(prim, time), uv_set)
            if not len(piece.positions):
                return
            if world is None and self._skeletons.moves(prim):
                piece, world = self._skeletons.posed(prim, time, piece, places)
        except UnreadableFrame as error:
            broken.append(error)
            return
        if world is None:
            world = np.array(places.GetLocalToWorldTransform(prim)).T  # USD uses row vectors
        pieces.append(placed(piece, world))

    def box(self, number: Fraction, take: Take) -> Floats | None:
        """Return the bounding box of the selected meshes that are visible in a frame.

        Args:
            number: The frame number, which is also the time code.
            take: The selection of meshes and UVs, and their conversion.

        Returns:
            Minimum and maximum, (2, 3); None if no selected mesh is both visible and readable.
        """
        try:
            positions = self.mesh(number, take).positions
        except UnreadableFrame:
            return None
        return np.array([positions.min(axis=0), positions.max(axis=0)], np.float64) if len(positions) else None

    def _notes(self) -> Iterator[LeftOut]:
        """Yield the content to leave out, as far as it is known when the stage is opened."""
        from pxr import UsdGeom

        meshes = self._contents.meshes
        cages = sum(_is_cage(prim) for prim in meshes)
        if cages:
            some = f"{cages} of {counted(len(meshes), 'mesh', 'meshes')}"
            yield LeftOut(f"subdivision ({some}); control cages are used unchanged")
        count = len(self._contents.instancers)
        if count and not self._instances:
            first = safe(str(self._contents.instancers[0].GetPath()))
            which = first if count == 1 else f"{count:,} prims, such as {first}"
            yield LeftOut(f"copies made by point instancers ({which}); to include them, use --instances", seen=True)
        if self._contents.others:
            yield LeftOut(f"objects that are not meshes: {', '.join(self._contents.others)}", seen=True)
        if self._contents.unseen:
            yield LeftOut(f"objects that are never visible in a picture: {', '.join(self._contents.unseen)}")
        groups = sum(_groups(prim) for prim in meshes)
        if groups:
            yield LeftOut(f"face groups without a material of their own ({counted(groups, 'GeomSubset prim')})")
        yield from other_uv_sets(self.meshes)
        left = {loss: None for prim in meshes for loss in self._first_losses(prim)}
        yield from left
        if any(UsdGeom.Mesh(prim).GetHoleIndicesAttr().HasAuthoredValue() for prim in meshes):
            yield LeftOut("holes (holeIndices), which become ordinary faces", seen=True)

    def _bound(self, prim: Any, time: Any) -> Bound:
        from pxr import UsdGeom

        return self._table.bound(prim, len(UsdGeom.Mesh(prim).GetFaceVertexCountsAttr().Get(time) or ()), time)

    def _first_time(self) -> Any:
        from pxr import Usd

        return Usd.TimeCode(float((*self.frames, *self.sub_frames, Fraction(1))[0]))

    def _listed(self, prim: Any) -> SceneMesh:
        sets: list[str] = []
        with suppress(UnreadableFrame):  # reported when the frame is read
            sets = uv_sets(prim, self._bound(prim, self._first_time()))
        return SceneMesh(str(prim.GetPath()), "cage" if _is_cage(prim) else "mesh", uv_sets=tuple(sets))

    def _first_losses(self, prim: Any) -> Sequence[LeftOut]:
        """Return the content that is left out of a mesh in the first frame."""
        time = self._first_time()
        with suppress(UnreadableFrame):  # reported when the frame is read
            return read_geometry(prim, time, self._bound(prim, time)).left_out
        return ()


def _visible(prim: Any, time: Any) -> bool:
    from pxr import UsdGeom

    return bool(UsdGeom.Imageable(prim).ComputeVisibility(time) != UsdGeom.Tokens.invisible)


def _is_cage(prim: Any) -> bool:
    from pxr import UsdGeom

    return bool(UsdGeom.Mesh(prim).GetSubdivisionSchemeAttr().Get() != UsdGeom.Tokens.none)


def _metres(stage: Any) -> float:
    """Return metersPerUnit, the length of a unit in metres. If metersPerUnit is missing or invalid, return OpenUSD's
    fallback, 0.01."""
    stated = stage.GetMetadata("metersPerUnit") if stage.HasAuthoredMetadata("metersPerUnit") else None
    return float(stated) if isinstance(stated, (int, float)) and stated > 0 else _CENTIMETRE


def _up(stage: Any) -> str:
    from pxr import UsdGeom

    return str(UsdGeom.GetStageUpAxis(stage)).lower()


def _contents(stage: Any) -> _Contents:
    """Find the cameras, the lights, and the prims that may be visible in a picture. Prims below an instancer are left
    out.

    Raises:
        UnreadableFrame: There are more than `_MOST_PRIMS` prims.
    """
    from pxr import Usd, UsdGeom, UsdLux

    meshes, instancers, others, unseen = [], [], set(), set()
    walk = iter(Usd.PrimRange.Stage(stage, Usd.TraverseInstanceProxies()))
    for visited, prim in enumerate(walk):
        if visited >= _MOST_PRIMS:
            raise UnreadableFrame("not-supported", reason=f"more than {_MOST_PRIMS:,} prims, including instances")
        if prim.IsA(UsdGeom.PointInstancer):
            if is_for_pictures(prim):
                instancers.append(prim)
            walk.PruneChildren()
        elif prim.IsA(UsdGeom.Gprim):
            if not is_for_pictures(prim):
                continue
            if prim.IsA(UsdGeom.Mesh):
                meshes.append(prim)
            else:
                others.add(str(prim.GetTypeName()))
        elif prim.IsA(UsdGeom.Camera) or prim.HasAPI(UsdLux.LightAPI):
            unseen.add(str(prim.GetTypeName()))
    return _Contents(tuple(meshes), tuple(instancers), tuple(sorted(others)), tuple(sorted(unseen)))


def _groups(prim: Any) -> int:
    """Count the face subsets of a mesh that are not used to bind materials."""
    from pxr import UsdGeom, UsdShade

    subsets = UsdGeom.Subset.GetAllGeomSubsets(UsdGeom.Imageable(prim))
    return sum(str(one.GetFamilyNameAttr().Get() or "") != str(UsdShade.Tokens.materialBind) for one in subsets)


def _frames(stage: Any, contents: _Contents, skeletons: Skeletons) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    """Return the numbers of the whole frames of a stage, and of the sub-frames that have samples.

    A static stage whose range is missing, or contains no whole number, has one frame.

    Raises:
        UnreadableFrame: The range is not finite, ends before it starts, or has more than MOST_FRAMES frames.
    """
    prims = (*contents.meshes, *contents.instancers)
    times = {time for prim in prims for time in (*_samples(prim), *skeletons.samples(prim))}
    if stage.HasAuthoredTimeCodeRange():
        first, last = stage.GetStartTimeCode(), stage.GetEndTimeCode()
    else:
        first, last = (min(times), max(times)) if times else (1.0, 1.0)
    if not (math.isfinite(first) and math.isfinite(last)):
        raise UnreadableFrame("broken-form", reason="the range of time codes is not finite")
    if last < first:
        raise UnreadableFrame(
            "broken-form", reason=f"the range of time codes ends ({last:g}) before it starts ({first:g})"
        )
    whole = range(math.ceil(first), math.floor(last) + 1)
    if len(whole) > MOST_FRAMES:
        raise UnreadableFrame(
            "not-supported", reason=f"a range of {len(whole):,} frames; at most {MOST_FRAMES:,} are supported"
        )
    if not whole and len(times) <= 1:
        return (Fraction(math.floor(first)),), ()
    between = sorted(time for time in times if first <= time <= last and time != math.floor(time))
    return tuple(map(Fraction, whole)), tuple(Fraction(time).limit_denominator(10_000) for time in between)


def _samples(prim: Any) -> Iterator[float]:
    """Yield the times of all samples of a prim's attributes, and of the transforms and visibilities above it."""
    from pxr import UsdGeom

    for attribute in prim.GetAttributes():
        yield from attribute.GetTimeSamples()
    above = prim.GetParent()
    while above and not above.IsPseudoRoot():
        if above.IsA(UsdGeom.Xformable):
            yield from UsdGeom.Xformable(above).GetTimeSamples()
        if above.IsA(UsdGeom.Imageable):
            yield from UsdGeom.Imageable(above).GetVisibilityAttr().GetTimeSamples()
        above = above.GetParent()
