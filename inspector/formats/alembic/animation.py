"""Reading an archive as an animation. For each frame, the selected, visible meshes are joined into one mesh."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, product
from pathlib import Path

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.errors import MeshqcError
from inspector.formats.alembic.archive import Archive
from inspector.formats.alembic.mesh import MeshSample, NoSample
from inspector.formats.alembic.ogawa import ArchiveError
from inspector.formats.alembic.scene import ArchiveScene, PlacedMesh, clock_of, frames_of
from inspector.formats.animation import SceneMesh, Take, listed_names, other_uv_sets
from inspector.formats.mesh import (
    LeftOut,
    Material,
    Mesh,
    Numbers,
    Part,
    corners_of,
    distinct_rows,
    join_meshes,
    joined_colours,
    offsets_of,
    placed,
)
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name, counted, safe
from inspector.safe_open import open_scene

_FAR = 64
"""Maximum ratio of a mesh's largest absolute coordinate to the longest side of its bounding box. Up to this ratio,
positions are converted to single precision (24 bits), which is then accurate to 1 / 100,000 of that side."""


class ArchiveAnimation:
    """An open archive; see `Animation` for the attributes. The format states neither a unit nor an up axis."""

    def __init__(self, path: Path, rate: Fraction | None = None) -> None:
        """Open an archive.

        Args:
            path: Path of the file.
            rate: Frames per second; None if the user states no rate.

        Raises:
            UnreadableFrame: The file as a whole can't be read.
        """
        try:
            self._scene = ArchiveScene(Archive(open_scene(path)))
            self._clock = clock_of(self._scene, rate)
            self.frames, self.sub_frames = frames_of(self._scene, self._clock)
            self.meshes = tuple(_listed(mesh) for mesh in self._scene.meshes)
        except ArchiveError as error:
            raise UnreadableFrame("broken-form", 0, str(error)) from error
        except OSError as error:
            raise UnreadableFrame("unopenable", 0, error.strerror) from error
        self.metres: float | None = None
        self.up: str | None = None
        self.rate, self.rate_source = self._clock.rate, self._clock.source
        self.notes = tuple(_notes(self._scene, self.meshes))
        self.left_out: Counter[LeftOut] = Counter()
        self._kept: dict[PlacedMesh, _Kept] = {}
        self._joined: _Joined | None = None

    def mesh(self, number: Fraction, take: Take) -> Mesh:
        """Join all selected meshes that are visible in a frame, in world space.

        As long as only the points and their colours change, the arrays of corners, UVs and normals are the same objects
        as in the previous frame. If at least one mesh can be read, meshes that can't be read are left out and reported.

        Args:
            number: The frame number.
            take: The selection of meshes and UVs, and their conversion.

        Raises:
            UnreadableFrame: No selected mesh is visible in the frame, or none of the visible meshes can be read.
            MeshqcError: The file has changed since it was opened, or a visible mesh has no sample at that frame and
                can't be interpolated (see `Take.blend`).
        """
        seconds = self._clock.seconds(number)
        self._scene.archive.file.refuse_changed()
        pieces: list[Mesh] = []
        broken: list[str] = []
        for mesh, listed in zip(self._scene.meshes, self.meshes, strict=True):
            if not take.takes(listed.path):
                continue
            try:
                if mesh.placement.shown(seconds):
                    pieces.append(self._piece(mesh, seconds, take))
            except NoSample as error:
                more = "" if take.blend else ", or interpolate (--blend)"
                raise MeshqcError(
                    f"frame {float(number):.14g}: {safe(listed.path)}: {error}; "
                    f"choose frames that have samples (--frames, --step){more}"
                ) from error
            except ArchiveError as error:
                self._scene.archive.file.refuse_changed()
                broken.append(f"{safe(listed.path)}: {error}")
        if not pieces:
            raise UnreadableFrame("broken-form", 0, broken[0]) if broken else UnreadableFrame("no-mesh", 0)
        self.left_out.update(LeftOut(one, seen=True) for one in broken)
        if len(pieces) == 1:
            return pieces[0]
        if self._joined is None or not self._joined.holds(pieces):
            materials = {one.name: one for mesh in pieces for one in mesh.materials}
            self._joined = _Joined(pieces, join_meshes(pieces, tuple(materials.values())))
        positions = np.concatenate([one.positions for one in pieces])
        return replace(self._joined.whole, positions=positions, colours=joined_colours(pieces))

    def box(self, number: Fraction, take: Take) -> Floats | None:
        """Return a box that encloses the selected meshes that are visible in a frame.

        It encloses the bounding box that the file states for each mesh or, if the stated box isn't valid, the mesh's
        points. Meshes that can't be read are left out.

        Args:
            number: The frame number.
            take: The selection of meshes and UVs, and their conversion.

        Returns:
            Minimum and maximum, (2, 3); None if no selected mesh is both visible and readable.
        """
        seconds = self._clock.seconds(number)
        corners = [np.zeros((0, 4))]
        for mesh in self._scene.meshes:
            with suppress(ArchiveError):  # reported when the frame is read
                if take.takes(mesh.path) and mesh.placement.shown(seconds):
                    corners.append(_around(mesh, seconds) @ mesh.placement.world(seconds, blend=True))
        rows = np.concatenate(corners)[:, :3] @ take.constant[:3, :3].T
        rows = rows[np.isfinite(rows).all(axis=1)]
        return np.array([rows.min(axis=0), rows.max(axis=0)]) if len(rows) else None

    def _piece(self, mesh: PlacedMesh, seconds: float, take: Take) -> Mesh:
        """Read one mesh at a given time, in world space.

        Raises:
            NoSample: There is no sample at that time, and interpolation is off or impossible.
            ArchiveError: The mesh is damaged.
        """
        sample = mesh.sample(seconds, take.uv_set, take.blend)
        self.left_out.update(LeftOut(f"{safe(mesh.path)}: {note}", seen=True) for note in sample.notes)
        kept = self._kept.get(mesh)
        if kept is None or not kept.holds(sample):
            kept = self._kept[mesh] = _Kept(sample, _local(mesh, sample))
        there = kept.placed(sample.points, take.constant @ mesh.placement.world(seconds, take.blend).T)
        return replace(there, colours=sample.colours) if len(sample.colours) else there


def _around(mesh: PlacedMesh, seconds: float) -> Floats:
    """Return the corners of the bounding box that the file states for a mesh or, without a valid box, the mesh's
    points.

    They are in the mesh's own space, (n, 4), with 1 as the last number of each row.
    """
    box = mesh.reader.bounds(seconds)
    if box is None:
        points = mesh.sample(seconds, blend=True).points
        return np.column_stack([points, np.ones(len(points))])
    return np.array([[x, y, z, 1.0] for x, y, z in product(*box.T.tolist())])


class _Kept:
    """A mesh in its own space, and the same mesh as it was last placed in the world."""

    def __init__(self, sample: MeshSample, local: Mesh) -> None:
        self._sample, self._local = sample, local
        self._world: Floats | None = None
        self._there = local

    def holds(self, sample: MeshSample) -> bool:
        """Return whether a sample has the same arrays as this mesh, apart from the points and their colours."""
        names = ("sizes", "v", "uvs", "vt", "normals", "vn", "material_of")
        return all(getattr(self._sample, name) is getattr(sample, name) for name in names)

    def placed(self, points: Numbers, world: Floats) -> Mesh:
        """Place the mesh in the world. If the matrix is the same as in the last call, only the array of points is new.

        Args:
            points: Points of the frame, in the mesh's own space, (n, 3).
            world: Matrix for column vectors, (4, 4).
        """
        if self._world is None or not np.array_equal(world, self._world):
            before, self._world = self._there, world
            bare = placed(Mesh(self._local.positions[:0], _NO_CORNERS, normals=self._local.normals), world)
            turned = np.linalg.det(world[:3, :3]) < 0
            was = before.corners is not self._local.corners
            corners = before.corners if turned == was else placed(self._local, world).corners
            normals = bare.normals.astype(np.float32) if len(bare.normals) else self._local.normals
            self._there = replace(self._local, corners=corners, normals=normals)
        positions = placed(Mesh(points, _NO_CORNERS), world).positions
        return replace(self._there, positions=_narrow(positions, points))


_NO_CORNERS = corners_of(np.zeros(1, np.int64), np.zeros(0, np.int64))


@dataclass(frozen=True, slots=True, eq=False)
class _Joined:
    """A result of `join_meshes`, kept for the next frame.

    Attributes:
        pieces: The meshes, in world space.
        whole: The mesh that joins them.
    """

    pieces: list[Mesh]
    whole: Mesh

    def holds(self, pieces: list[Mesh]) -> bool:
        """Return whether the given meshes differ from the joined meshes at most in positions and colours."""
        return len(pieces) == len(self.pieces) and all(
            one.corners is other.corners
            and one.uvs is other.uvs
            and one.normals is other.normals
            and len(one.positions) == len(other.positions)
            for one, other in zip(pieces, self.pieces, strict=True)
        )


def _local(mesh: PlacedMesh, sample: MeshSample) -> Mesh:
    """Convert a sample to a mesh in its own space."""
    uvs, vt = sample.uvs, sample.vt
    if vt is not None and len(uvs) == len(sample.v):  # one UV for each corner
        uvs, distinct = distinct_rows(uvs)
        vt = distinct[vt]
    normals, vn = sample.normals, sample.vn
    if vn is not None:
        normals, vn = _of_points(normals, vn, sample.v, len(sample.points))
    names = tuple(Name(name.encode("utf-8", "surrogateescape")) for name in sample.materials)
    parts = tuple(_parts(Name(mesh.path[1:].encode("utf-8", "surrogateescape")), names, sample.material_of))
    return Mesh(
        sample.points,
        corners_of(offsets_of(sample.sizes), sample.v, vt, vn),
        uvs if vt is not None else np.zeros((0, 2)),
        normals if vn is not None else np.zeros((0, 3)),
        parts,
        tuple(map(Material, names)),
    )


def _of_points(normals: Numbers, vn: Indices, v: Indices, points: int) -> tuple[Numbers, Indices]:
    """Reduce normals, (k, 3), to one per point if all corners at each point have the same normal, as in smooth meshes.

    Return the normals, and the index of each corner's normal, (c,). They are unchanged if the normals differ at a point
    or there are no more normals than points.
    """
    if len(normals) <= points:
        return normals, vn
    first = np.zeros(points, np.int64)
    first[v[::-1]] = vn[::-1]
    of_point = normals[first]
    return (of_point, v) if np.array_equal(of_point[v], normals[vn]) else (normals, vn)


def _parts(object_: Name, names: tuple[Name, ...], material_of: Indices) -> Iterator[Part]:
    """Yield a part for each run of consecutive faces with the same material."""
    changes = np.flatnonzero(np.diff(material_of)) + 1
    edges = [0, *changes.tolist(), len(material_of)]
    for start, stop in pairwise(edges):
        if stop > start:
            number = int(material_of[start])
            yield Part(start, stop, object_, names[number] if number >= 0 else None)


def _narrow(positions: Numbers, source: Numbers) -> Numbers:
    """Convert positions to single precision if the file uses it, unless they are so far from the origin that they would
    jitter."""
    if source.dtype != np.float32 or positions.dtype == np.float32 or not len(positions):
        return positions
    low, high = positions.min(axis=0), positions.max(axis=0)
    reach, length = max(np.abs(low).max(), np.abs(high).max()), (high - low).max()
    return positions if reach > _FAR * length else positions.astype(np.float32)


def _listed(mesh: PlacedMesh) -> SceneMesh:
    reader = mesh.reader
    moves = any(not one.constant for one in mesh.properties)
    motion = "changing faces" if reader.topology == "changing" else "moving" if moves else "still"
    faces: int | None = None
    hidden = False
    with suppress(ArchiveError):  # reported when the frame is read
        hidden = mesh.hidden
        faces = reader.faces
    return SceneMesh(
        mesh.path,
        "cage" if reader.cage else "mesh",
        faces,
        motion,
        reader.materials,
        tuple(one.name for one in reader.uv_sets),
        hidden,
    )


_NEVER_SEEN = frozenset(("cameras", "lights"))
"""Kinds of objects that are never visible in a picture."""


def _notes(scene: ArchiveScene, meshes: tuple[SceneMesh, ...]) -> Iterator[LeftOut]:
    """Yield the content that will be left out, as far as it is known when the archive is opened."""
    cages = sum(one.kind == "cage" for one in meshes)
    if cages:
        some = f"{cages} of {counted(len(meshes), 'mesh', 'meshes')}"
        yield LeftOut(f"subdivision ({some}); control cages are used unchanged")
    yield from other_uv_sets(meshes)
    further = [one.name for mesh in scene.meshes for one in mesh.reader.colour_sets[1:]]
    if further:
        yield LeftOut(f"all but the first set of vertex colours per mesh ({listed_names(further)})", seen=True)
    hidden = sum(one.hidden for one in meshes)
    if hidden:
        yield LeftOut(f"hidden meshes ({hidden} of {len(meshes)})")
    if scene.not_taken:
        counts = ", ".join(f"{kind} ({count})" for kind, count in sorted(scene.not_taken.items()))
        seen = bool(scene.not_taken.keys() - _NEVER_SEEN)
        yield LeftOut(f"objects that are not meshes: {counts}", seen)
    for problem in scene.archive.problems:
        yield LeftOut(problem, seen=True)
    more = scene.archive.left_out - len(scene.archive.problems)
    if more:
        yield LeftOut(f"{counted(more, 'more object')} that can't be read", seen=True)
    faults = [f"{safe(mesh.path)}: {fault}" for mesh in scene.meshes for fault in mesh.reader.faults]
    yield from (LeftOut(fault, seen=True) for fault in faults[:20])
