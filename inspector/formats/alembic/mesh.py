"""One mesh object of an archive at a given time: its points, faces, UVs, normals, colours and face sets."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

import numpy as np
import numpy.typing as npt

from inspector.arrays import Indices
from inspector.formats.alembic.archive import Compound, Object, Property, Values
from inspector.formats.alembic.ogawa import ArchiveError, TooMuchStructure
from inspector.formats.alembic.times import At
from inspector.formats.mesh import of_vertices
from inspector.names import counted, safe

POLYGONS = "AbcGeom_PolyMesh_v1"
CAGE = "AbcGeom_SubD_v1"
FACE_SET = "AbcGeom_FaceSet_v1"
MESHES = (POLYGONS, CAGE)

T = TypeVar("T")

_NOTHING: Values = np.zeros((0, 0), np.float32)
_SCOPES = {"con": "constant", "": "constant", "uni": "face", "var": "point", "vtx": "point", "fvr": "corner"}


@dataclass(frozen=True, slots=True, eq=False)
class MeshSample:
    """A mesh at one point in time, in its own space. As in OBJ, faces are counter-clockwise when seen from outside.

    If an array is the same object as in the previous sample, its values have not changed. In a mesh that will be
    written, a negative index in `vt` or `vn` marks a corner without a UV or a normal.

    Attributes:
        points: Positions of the points, (n, 3) float32 or float64.
        sizes: Number of corners of each face, (f,).
        v: Index of each corner's point, (c,).
        uvs: The UVs, with the origin at the bottom left, (m, 2); empty if there are none.
        vt: Index of each corner's UV, (c,); None if there are no UVs.
        normals: The normals, (k, 3); empty if there are none.
        vn: Index of each corner's normal, (c,); None if there are no normals.
        materials: Names of the materials.
        material_of: Index of each face's material in `materials`, (f,); -1 for a face without a material.
        notes: Content that was left out, in words for users.
        colours: Red, green and blue of each point, (n, 3); empty if there are no colours.
    """

    points: Values
    sizes: Indices
    v: Indices
    uvs: Values
    vt: Indices | None
    normals: Values
    vn: Indices | None
    materials: tuple[str, ...]
    material_of: Indices
    notes: tuple[str, ...]
    colours: Values = field(default_factory=lambda: _NOTHING)


@dataclass(frozen=True, slots=True)
class Parameter:
    """Values that belong to points, corners, faces or the whole mesh (a GeomParam).

    Attributes:
        name: Name for users: the name of the UV set or of the colours, or "normals".
        values: The values.
        indices: Index of each element's value; None if each element has its own value.
        scope: The kind of elements that the values belong to, as stated in the file: "corner", "point", "face" or
            "constant".
    """

    name: str
    values: Property
    indices: Property | None
    scope: str


class _LastResult(Generic[T]):
    """Keeps the last result, so that unchanged values aren't computed again."""

    def __init__(self) -> None:
        self._key: object = None
        self._value: T | None = None

    def get(self, key: object, make: Callable[[], T]) -> T:
        if self._value is None or key != self._key:
            self._value, self._key = make(), key
        return self._value


@dataclass(frozen=True, slots=True, eq=False)
class _Faces:
    """The checked faces of one sample.

    Attributes:
        sizes: Number of corners of each face, (f,).
        v: Index of each corner's point, (c,).
        order: Index of each corner in the file, (c,). The file lists the corners of a face in reverse order.
        lowest: The lowest index in `v`; 0 if there are no corners.
        highest: The highest index in `v`; -1 if there are no corners.
    """

    sizes: Indices
    v: Indices
    order: Indices
    lowest: int
    highest: int

    def of_corner(self, scope: str) -> Indices:
        """Return the index of each corner's element, (c,).

        Args:
            scope: The kind of elements: "corner", "point", "face" or "constant".
        """
        match scope:
            case "corner":
                return self.order
            case "point":
                return self.v
            case "face":
                return np.repeat(np.arange(len(self.sizes)), self.sizes)
            case _:
                return np.zeros(len(self.v), np.int64)

    def fitting(self, scope: str, length: int, points: int) -> str:
        """Choose a scope with as many elements as there are values.

        Args:
            scope: The scope that the file states, which is used if it fits.
            length: Number of values.
            points: Number of points of the mesh.

        Returns:
            The scope; "" if no scope fits.
        """
        lengths = {"corner": len(self.v), "point": points, "face": len(self.sizes), "constant": 1}
        return next((one for one in (scope, *lengths) if lengths[one] == length), "")


class MeshReader:
    """Reads the samples of one mesh object, which may appear more than once in the scene.

    Attributes:
        cage: Whether the object is the control cage of a subdivision surface.
        normals: The normals; None if there are none, or the object is a cage.
        uv_sets: The UV sets, with the main set first.
        colour_sets: The sets of vertex colours. Only the first is used.
        faults: Content that can't be used and was left out, in words for users.
    """

    def __init__(self, node: Object) -> None:
        """Find the properties of the mesh without reading any array.

        Raises:
            ArchiveError: A property that every mesh needs is missing, can't be read or has the wrong type.
        """
        geometry = node.properties.compound(".geom")
        if geometry is None:
            raise ArchiveError("; ".join(["the mesh has no geometry", *node.properties.faults]))
        self.cage = node.schema == CAGE
        self._points = _required(geometry, "P", "f", 3)
        self._counts = _required(geometry, ".faceCounts", "i", 1)
        self._indices = _required(geometry, ".faceIndices", "i", 1)
        self._bounds = geometry.property(".selfBnds")
        self.normals = None if self.cage else _parameter(geometry, "N", 3, "normals")
        self.uv_sets = tuple(_uv_sets(geometry))
        self.colour_sets = tuple(_colour_sets(geometry))
        self._last_colours: _LastResult[tuple[Values, Indices]] = _LastResult()
        self._sets = []
        faults = list(geometry.faults)
        for child in node.children:
            try:
                if child.schema == FACE_SET:
                    self._sets.append(_FaceSet(child))
            except TooMuchStructure:
                raise
            except ArchiveError as error:
                faults.append(f"face set {safe(child.name)}: {error}")
        self._material = _assigned(node)
        self.faults = tuple(faults)
        self._last_faces: _LastResult[_Faces] = _LastResult()
        self._last_points: _LastResult[Values] = _LastResult()
        self._last_uvs: _LastResult[tuple[Values, Indices]] = _LastResult()
        self._last_normals: _LastResult[tuple[Values, Indices]] = _LastResult()
        self._last_materials: _LastResult[Indices] = _LastResult()

    @property
    def faces(self) -> int:
        """Number of faces in the first sample."""
        return self._counts.items(0)

    @property
    def topology(self) -> str:
        """How the mesh changes over time: "constant" (not at all), "deforming" (only points move) or "changing" (faces
        change)."""
        if not (self._counts.constant and self._indices.constant):
            return "changing"
        return "constant" if self._points.constant else "deforming"

    @property
    def materials(self) -> tuple[str, ...]:
        """Names of the materials: first the material of the whole mesh, if any, and then those of the face sets."""
        names = [self._material] if self._material else []
        return tuple(dict.fromkeys([*names, *(one.material for one in self._sets)]))

    @property
    def properties(self) -> Iterator[Property]:
        """All properties that determine the content of the mesh at a given time."""
        yield from (self._points, self._counts, self._indices)
        for parameter in (*self.uv_sets, *([self.normals] if self.normals else []), *self.colour_sets[:1]):
            yield parameter.values
            if parameter.indices is not None:
                yield parameter.indices
        yield from (one.faces for one in self._sets)

    def bounds(self, time: float) -> Values | None:
        """Return the bounding box that the file states for a given time. The stated box may be wrong.

        Args:
            time: The time, in seconds.

        Returns:
            Minimum and maximum, (2, 3); None if no box is stated, or if the stated box is damaged, empty or
            implausibly large.
        """
        if self._bounds is None:
            return None
        try:
            box = self._bounds.numbers(_held(self._bounds, time)).astype(np.float64).reshape(-1)
        except ArchiveError:
            return None
        if len(box) != 6 or not np.isfinite(box).all() or (box[:3] > box[3:]).any() or np.abs(box).max() > 1e30:
            return None
        return box.reshape(2, 3)

    def uv_set(self, name: str | None) -> Parameter | None:
        """Return the UV set with the given name; None if it doesn't exist.

        Args:
            name: Name of the UV set; None for the main set.
        """
        return next((one for one in self.uv_sets if name is None or one.name == name), None)

    def sample(self, time: float, uv_set: str | None = None, blend: bool = False) -> MeshSample:
        """Read the mesh at a given time.

        Args:
            time: The time, in seconds.
            uv_set: Name of the UV set; None for the main set.
            blend: Whether to interpolate the points between two samples that have the same faces.

        Raises:
            NoSample: There is no sample at that time, and interpolation is off or impossible.
            ArchiveError: The sample is damaged.
        """
        notes: list[str] = []
        at = self._points.sampling.at(time, self._points.header.samples)
        if at.blend and not blend:
            raise NoSample("the points have no sample at this time")
        faces = self._faces_at(time)
        points = self._points_at(at)
        if len(faces.v) and not 0 <= faces.lowest <= faces.highest < len(points):
            wrong = faces.lowest if faces.lowest < 0 else faces.highest
            raise ArchiveError(
                f"a face uses point {wrong:,}, but the mesh has {counted(len(points), 'point')} (numbered from 0)"
            )
        uvs, vt = self._elements(self.uv_set(uv_set), time, faces, len(points), self._last_uvs, notes)
        normals, vn = self._elements(self.normals, time, faces, len(points), self._last_normals, notes)
        material_of = self._materials_at(time, len(faces.sizes), notes)
        colours = self._colours_at(time, faces, len(points), notes)
        return MeshSample(
            points, faces.sizes, faces.v, uvs, vt, normals, vn, self.materials, material_of, tuple(notes), colours
        )

    def _faces_at(self, time: float) -> _Faces:
        counts, indices = _held(self._counts, time), _held(self._indices, time)
        return self._last_faces.get(
            (self._counts.place(counts), self._indices.place(indices)),
            lambda: _faces(self._counts.numbers(counts).ravel(), self._indices.numbers(indices).ravel()),
        )

    def _points_at(self, at: At) -> Values:
        here = self._points.place(at.index)
        there = self._points.place(at.index + 1) if at.blend else here
        if here == there:
            return self._last_points.get(here, lambda: _finite(self._points.numbers(at.index)))
        return self._last_points.get((here, there, at.blend), lambda: self._blended(at))

    def _blended(self, at: At) -> Values:
        """Interpolate the points between two samples.

        Raises:
            NoSample: The samples have different faces.
        """
        times = [self._points.sampling.time(index) for index in (at.index, at.index + 1)]
        first, second = (_finite(self._points.numbers(index)) for index in (at.index, at.index + 1))
        before, after = ([one.place(_held(one, time)) for one in (self._counts, self._indices)] for time in times)
        if before != after or len(first) != len(second):
            raise NoSample("the faces change between the two nearest samples, so the points can't be interpolated")
        kind = np.float64 if first.dtype == np.float64 else np.float32
        return (first * (1 - at.blend) + second * at.blend).astype(kind)

    def _elements(
        self,
        parameter: Parameter | None,
        time: float,
        faces: _Faces,
        points: int,
        last: _LastResult[tuple[Values, Indices]],
        notes: list[str],
    ) -> tuple[Values, Indices | None]:
        """Return the UVs, normals or colours of a sample, and the index of each corner's value, (c,).

        If there are no values, or they can't be used, return an empty array and None. In the second case, the reason is
        added to `notes`.
        """
        if parameter is None:
            return _NOTHING, None
        try:
            number = _held(parameter.values, time)
            places = [parameter.values.place(number)]
            index = 0
            if parameter.indices is not None:
                index = _held(parameter.indices, time)
                places.append(parameter.indices.place(index))
            return last.get((faces, points, *places), lambda: _expanded(parameter, number, index, faces, points))
        except ArchiveError as error:
            notes.append(f"{safe(parameter.name)}: {error}")
            return _NOTHING, None

    def _colours_at(self, time: float, faces: _Faces, points: int, notes: list[str]) -> Values:
        """Return one colour for each point, (points, 3). The colours are taken from the first set of vertex colours.

        The result is empty if there are no vertex colours. If the faces at a point have different colours, all colours
        are left out, and a note is added to `notes`.
        """
        if not self.colour_sets:
            return _NOTHING
        first = self.colour_sets[0]
        values, slots = self._elements(first, time, faces, points, self._last_colours, notes)
        if slots is None:
            return _NOTHING
        if values.shape[1] == 4 and (values[:, 3] < 1).any():
            notes.append(f"{safe(first.name)}: the opacity of vertex colours")
        rows = of_vertices(values[:, :3], slots.astype(np.int32), faces.v.astype(np.int32), points)
        if rows is None:
            notes.append(f"{safe(first.name)}: colours that differ between the faces at a point")
            return _NOTHING
        return rows

    def _materials_at(self, time: float, faces: int, notes: list[str]) -> Indices:
        names = self.materials
        start = 0 if self._material else -1
        wanted: list[tuple[_FaceSet, int]] = []
        places: list[object] = [faces]
        for one in self._sets:
            try:
                number = _held(one.faces, time)
                places.append(one.faces.place(number))
                wanted.append((one, number))
            except ArchiveError as error:
                notes.append(f"face set {safe(one.material)}: {error}")
        return self._last_materials.get(tuple(places), lambda: _material_of(faces, start, names, wanted))


class NoSample(ArchiveError):
    """There is no sample at the requested time, and interpolation is off or impossible."""


class _FaceSet:
    """A set of faces with the same material."""

    def __init__(self, node: Object) -> None:
        compound = node.properties.compound(".faceset")
        faces = None if compound is None else compound.property(".faces")
        if faces is None or not _is(faces, "i", 1):
            raise ArchiveError("the list of faces is missing, or is not a list of whole numbers")
        self.faces = faces
        self.material = _assigned(node) or node.name


def _assigned(node: Object) -> str:
    """Return the name of an object's material, the last part of the material's path; "" if there is none or it can't be
    read."""
    assigned = node.properties.property(".material.assign")
    if assigned is None:
        return ""
    try:
        return assigned.text(0).rpartition("/")[2]
    except ArchiveError:
        return ""


def _required(geometry: Compound, name: str, kind: str, extent: int) -> Property:
    found = geometry.property(name)
    if found is None:
        cause = "; ".join(geometry.faults) or "the file may be only a layer over another file; export the whole scene"
        raise ArchiveError(f"the mesh has no `{name}`: {cause}")
    if not _is(found, kind, extent):
        raise ArchiveError(f"`{name}` of the mesh has the wrong type")
    return found


def _is(one: Property, kind: str, extent: int) -> bool:
    types = {"f": (9, 10, 11), "i": (1, 2, 3, 4, 5, 6, 7, 8)}
    return one.header.kind in (2, 3) and one.header.type in types[kind] and one.header.extent == extent


def _held(one: Property, time: float) -> int:
    """Return the index of the last sample at or before a given time."""
    return one.sampling.at(time, one.header.samples).index


def _parameter(compound: Compound, name: str, extent: int, shown: str) -> Parameter | None:
    """Return a GeomParam, which is either an array of numbers or a compound of values and indices.

    None if it is missing, can't be read, or doesn't have the right type and extent (number of components of each
    value).
    """
    header = compound.headers.get(name)
    if header is None:
        return None
    if header.kind == 0:
        inside = compound.compound(name)
        values = None if inside is None else inside.property(".vals")
        indices = None if inside is None else inside.property(".indices")
    else:
        values, indices = compound.property(name), None
    if values is None or not _is(values, "f", extent) or (indices is not None and not _is(indices, "i", 1)):
        return None
    return Parameter(shown, values, indices, _SCOPES.get(header.metadata.get("geoScope", ""), "constant"))


def _uv_sets(geometry: Compound) -> Iterator[Parameter]:
    """Yield the UV sets, with `uv` first. Of sets with the same name, only the first is used."""
    names: set[str] = set()
    main = geometry.headers.get("uv")
    if main is not None:
        name = _set_name(main.metadata.get("sourceName", "")) or "uv"
        found = _parameter(geometry, "uv", 2, name)
        if found is not None:
            names.add(name)
            yield found
    others = geometry.compound(".arbGeomParams")
    for key, header in others.headers.items() if others is not None else ():
        metadata = header.metadata
        scoped = metadata.get("geoScope") in ("var", "vtx", "fvr")
        if metadata.get("interpretation") != "vector" or not scoped or metadata.get("notUV") == "1":
            continue
        name = _set_name(metadata.get("sourceName", "")) or _set_name(key)
        found = _parameter(others, key, 2, name) if others is not None and name not in names else None
        if found is not None:
            names.add(name)
            yield found


def _colour_sets(geometry: Compound) -> Iterator[Parameter]:
    """Yield the sets of vertex colours. A colour has three components, or four if it includes opacity."""
    others = geometry.compound(".arbGeomParams")
    for key, header in others.headers.items() if others is not None else ():
        extent = {"rgb": 3, "rgba": 4}.get(header.metadata.get("interpretation", ""))
        found = None if extent is None or others is None else _parameter(others, key, extent, key)
        if found is not None:
            yield found


def _set_name(name: str) -> str:
    """Return the name of a UV set. If it is a Python bytes literal such as b'map1', as one exporter writes it, return
    only the text between the quotes."""
    inside = name[2:-1] if len(name) > 3 and name.startswith(("b'", 'b"')) and name[-1] == name[1] else name
    return inside


def _faces(counts: Values, indices: Values) -> _Faces:
    """Check the faces, and reverse their winding to match OBJ. Each face keeps its first corner.

    Raises:
        ArchiveError: A face has a negative number of corners, or the numbers don't add up to the number of indices.
    """
    sizes = counts.astype(np.int64)
    if len(sizes) and int(sizes.min()) < 0:
        raise ArchiveError("a face has a negative number of corners")
    # The product is computed with Python's integers, because 2^33 faces of 2^31 corners would overflow 64 bits.
    total = int(sizes.sum()) if len(sizes) == 0 or int(sizes.max()) * len(sizes) < 1 << 62 else -1
    if total != len(indices):
        raise ArchiveError("the corner counts of the faces don't add up to the number of indices")
    order = turned(sizes)
    v = indices.astype(np.int64)[order]
    lowest, highest = (int(v.min()), int(v.max())) if total else (0, -1)
    return _Faces(sizes, v, order, lowest, highest)


def turned(sizes: Indices) -> Indices:
    """Return the order of corners, (c,), that reverses every face but keeps its first corner first. Applied twice, it
    restores the original order.

    Args:
        sizes: Number of corners of each face, (f,).
    """
    starts = np.repeat(np.cumsum(sizes) - sizes, sizes)
    within = np.arange(len(starts)) - starts
    return starts + np.where(within == 0, 0, np.repeat(sizes, sizes) - within)


def _finite(points: Values) -> Values:
    values = points.astype(np.float32) if points.dtype.itemsize < 4 else points
    with np.errstate(over="ignore", invalid="ignore"):
        if not np.isfinite(values.sum(dtype=np.float64)):
            bad = int((~np.isfinite(values)).any(axis=1).sum())
            if bad:
                verb = "is" if bad == 1 else "are"
                raise ArchiveError(f"{bad:,} of {counted(len(values), 'point')} {verb} not finite")
    return values


def _expanded(parameter: Parameter, number: int, index: int, faces: _Faces, points: int) -> tuple[Values, Indices]:
    """Return the values of a parameter's sample, and the index of each corner's value, (c,).

    `number` is the sample that contains the values; `index`, the sample that contains the indices.

    Raises:
        ArchiveError: The sample is damaged, or doesn't fit the mesh.
    """
    values = parameter.values.numbers(number)
    values = values.astype(np.float32) if values.dtype.itemsize < 4 else values
    indices = parameter.indices.numbers(index).ravel() if parameter.indices is not None else np.zeros(0, np.uint32)
    length = len(indices) or len(values)
    scope = faces.fitting(parameter.scope, length, points)
    if not scope:
        raise ArchiveError(f"the number of values ({length:,}) doesn't match the number of corners, points or faces")
    of_corner = faces.of_corner(scope)
    if not len(indices):
        return values, of_corner
    if int(indices.max()) >= len(values) or int(indices.min()) < 0:
        raise ArchiveError(f"an index is outside the list of {counted(len(values), 'value')}")
    return values, indices.astype(np.int64)[of_corner]


def _material_of(faces: int, start: int, names: tuple[str, ...], sets: list[tuple[_FaceSet, int]]) -> Indices:
    """Return the index of each face's material in `names`, (faces,); -1 for a face without a material.

    The first face set that contains the face decides; without one, the face has the material `start` of the whole mesh.
    Each face set is given with the index of its sample.
    """
    found = np.full(faces, start, np.int64)
    for one, number in reversed(sets):
        members: npt.NDArray[Any] = one.faces.numbers(number).ravel()
        members = members[(members >= 0) & (members < faces)]
        found[members] = names.index(one.material)
    return found
