"""The contents of an archive: meshes placed in the world, the frames and the frame rate."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from inspector.formats.alembic.archive import MAX_OBJECTS, MAX_PATH, Archive, Object, Property
from inspector.formats.alembic.mesh import FACE_SET, MESHES, MeshReader, MeshSample, NoSample
from inspector.formats.alembic.ogawa import ArchiveError, TooMuchStructure
from inspector.formats.alembic.times import TimeSampling

Matrix = npt.NDArray[np.float64]

XFORM = "AbcGeom_Xform_v3"
_NOT_TAKEN = {
    "AbcGeom_Curve_v2": "curves",
    "AbcGeom_Points_v1": "points",
    "AbcGeom_NuPatch_v2": "patches",
    "AbcGeom_Camera_v1": "cameras",
    "AbcGeom_Light_v1": "lights",
}
_CHANNELS = (3, 3, 4, 16, 1, 1, 1)
"""Number of values that each operation of a transform uses: scale, translate, rotate about an axis, matrix, rotate
about x, rotate about y, rotate about z."""

MAX_FRAMES = 100_000
"""Maximum number of samples of a property (69 minutes at 24 fps), not counting equal samples at the end. An archive
with more samples is refused, because a file can claim 4 billion samples in 5 bytes."""
_USUAL_RATES = (24, 25, 30, 48, 50, 60)
_HIGHEST_RATE = 60
"""Maximum number of samples per second that is used as the frame rate if no frame rate is stated. If there are more
samples per second, some of them may be sub-frames. The frame rate is then the first of `_USUAL_RATES` that divides the
number of samples per second or, if no usual rate divides it, the number of samples per second itself (common practice,
no source)."""
_FRAME_STEPS = 10_000
"""Frame numbers are rounded to a multiple of 1 / `_FRAME_STEPS`, because a time multiplied by the frame rate is rarely
whole."""


class Transform:
    """The local transform of an object.

    Attributes:
        inherits: Property that states whether the transforms of the object's ancestors apply; None if they always do.
        operations: Property with the codes of the operations; None if there are no operations.
        channels: Property with the numbers that the operations use; None if there are none.
    """

    def __init__(self, node: Object) -> None:
        """Find the properties of the transform.

        Raises:
            ArchiveError: An operation is unknown, there are too few numbers, or the numbers are not float64.
        """
        compound = node.properties.compound(".xform") if node.schema.startswith("AbcGeom_Xform") else None
        self.inherits = compound.property(".inherits") if compound else None
        self.operations = compound.property(".ops") if compound else None
        self.channels = compound.property(".vals") if compound else None
        self._known: tuple[object, Matrix] | None = None
        if self.operations is not None and self.channels is not None:
            last = self.channels.header
            have = self.channels.items(0) * last.extent
            if last.type != 11:
                raise ArchiveError("the numbers of a transform are not float64")
            if have < self._needed(self._codes(0)):
                raise ArchiveError("a transform has fewer numbers than its operations need")

    @property
    def properties(self) -> Iterator[Property]:
        """All properties that determine the transform at a given time."""
        yield from (one for one in (self.inherits, self.operations, self.channels) if one is not None)

    def alone(self, time: float) -> bool:
        """Return whether the transforms of the object's ancestors are ignored at a given time.

        Args:
            time: The time, in seconds.
        """
        if self.inherits is None:
            return False
        index = self.inherits.sampling.at(time, self.inherits.header.samples).index
        return not bool(self.inherits.numbers(index).ravel()[0])

    def matrix(self, time: float, blend: bool = False) -> Matrix:
        """Return the matrix for row vectors, (4, 4), with the translation in the last row.

        Args:
            time: The time, in seconds.
            blend: Whether to interpolate between two samples.

        Raises:
            NoSample: There is no sample at that time, and interpolation is off or impossible.
            ArchiveError: The sample is damaged.
        """
        if self.operations is None or self.channels is None:
            return _IDENTITY
        at = self.channels.sampling.at(time, self.channels.header.samples)
        if at.blend and not blend:
            raise NoSample("a transform has no sample at this time")
        code_index = self.operations.sampling.at(time, self.operations.header.samples).index
        key = (self.operations.place(code_index), self.channels.place(at.index), at.blend)
        if self._known is None or self._known[0] != key:
            values = self.channels.numbers(at.index).ravel()
            if at.blend:
                following = self.channels.numbers(at.index + 1).ravel()
                if len(following) != len(values):
                    raise NoSample(
                        "the operations of a transform change between the two nearest samples, so the transform can't "
                        "be interpolated"
                    )
                values = values * (1 - at.blend) + following * at.blend
            self._known = key, _composed(self._codes(code_index), values)
        return self._known[1]

    def _codes(self, index: int) -> list[int]:
        assert self.operations is not None
        codes: list[int] = (self.operations.numbers(index).ravel().astype(np.int64) >> 4).tolist()
        return codes

    @staticmethod
    def _needed(codes: list[int]) -> int:
        wrong = [code for code in codes if not 0 <= code < len(_CHANNELS)]
        if wrong:
            raise ArchiveError(f"a transform has an unknown operation (code {wrong[0]})")
        return sum(_CHANNELS[code] for code in codes)


_IDENTITY: Matrix = np.eye(4)
_IDENTITY.setflags(write=False)


def _composed(codes: list[int], values: npt.NDArray[np.float64]) -> Matrix:
    """Compose operations: M = M_op M for each operation in stored order. The last operation acts on a row vector first.

    Raises:
        ArchiveError: An operation is unknown, or a number is missing or not finite.
    """
    if len(values) < Transform._needed(codes):
        raise ArchiveError("a transform has fewer numbers than its operations need")
    if not np.isfinite(values).all():
        raise ArchiveError("a transform contains a number that is not finite")
    whole, at = np.eye(4), 0
    with np.errstate(over="ignore", invalid="ignore"):
        for code in codes:
            whole = _operation(code, values[at : at + _CHANNELS[code]]) @ whole
            at += _CHANNELS[code]
    if not np.isfinite(whole).all():
        raise ArchiveError("the matrix of a transform is not finite")
    return whole


def _operation(code: int, values: npt.NDArray[np.float64]) -> Matrix:
    matrix = np.eye(4)
    match code:
        case 0:
            matrix[(0, 1, 2), (0, 1, 2)] = values
        case 1:
            matrix[3, :3] = values
        case 2:
            length = math.hypot(*values[:3].tolist())
            axis = values[:3] / length if length > 0 else np.array([0.0, 0.0, 0.0])
            matrix[:3, :3] = _rotation(axis, float(values[3])) if length > 0 else np.eye(3)
        case 3:
            matrix = values.reshape(4, 4).copy()
        case _:
            matrix[:3, :3] = _rotation(np.eye(3)[code - 4], float(values[0]))
    return matrix


def _rotation(axis: npt.NDArray[np.float64], degrees: float) -> Matrix:
    x, y, z = axis.tolist()
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    t = 1 - c
    return np.array(
        [
            [x * x * t + c, x * y * t + z * s, x * z * t - y * s],
            [x * y * t - z * s, y * y * t + c, y * z * t + x * s],
            [x * z * t + y * s, y * z * t - x * s, z * z * t + c],
        ]
    )


class Placement:
    """An object in the world, at its own position or at the position of an instance.

    Attributes:
        node: The object.
        above: The placement of the object above; None for the top.
        path: Path in the scene; inside an instance, the path through the instance.
        transform: Local transform of the object.
        visible: Property that states whether the object is visible; None if there is no such property.
    """

    __slots__ = ("_key", "_world", "above", "node", "path", "transform", "visible")

    def __init__(
        self, node: Object, above: Placement | None, path: str, transform: Transform, visible: Property | None
    ) -> None:
        self.node, self.above, self.path = node, above, path
        self.transform, self.visible = transform, visible
        self._key: object = None
        self._world: Matrix = _IDENTITY

    def world(self, time: float, blend: bool = False) -> Matrix:
        """Return the matrix from the object's space to the world, for row vectors, (4, 4).

        Args:
            time: The time, in seconds.
            blend: Whether to interpolate transforms between two samples.

        Raises:
            NoSample: A transform has no sample at that time, and interpolation is off or impossible.
            ArchiveError: A transform is damaged.
        """
        chain: list[Placement] = []
        one: Placement | None = self
        while one is not None and one._key != (time, blend):
            chain.append(one)
            one = None if one.transform.alone(time) else one.above
        for below in reversed(chain):
            world = below.transform.matrix(time, blend)
            if below.above is not None and not below.transform.alone(time):
                world = world if below.above._world is _IDENTITY else world @ below.above._world
            below._world, below._key = world, (time, blend)
        return self._world

    def shown(self, time: float) -> bool:
        """Return whether the object is visible at a given time.

        The nearest non-negative value of `visible`, from this object upwards, decides; without one, the object is
        visible.

        Args:
            time: The time, in seconds.

        Raises:
            ArchiveError: The visibility of an object is damaged.
        """
        for one in self.upwards():
            if one.visible is not None:
                index = one.visible.sampling.at(time, one.visible.header.samples).index
                value = int(one.visible.numbers(index).ravel()[0])
                if value >= 0:
                    return value > 0
        return True

    def upwards(self) -> Iterator[Placement]:
        """Yield this placement and all placements above it."""
        one: Placement | None = self
        while one is not None:
            yield one
            one = one.above


@dataclass(frozen=True, slots=True)
class PlacedMesh:
    """A mesh of the scene.

    Attributes:
        placement: The position of the mesh in the scene.
        reader: The reader of the mesh. All instances of a mesh share one reader.
    """

    placement: Placement
    reader: MeshReader

    @property
    def path(self) -> str:
        """Path in the scene; inside an instance, the path through the instance."""
        return self.placement.path

    @property
    def properties(self) -> Iterator[Property]:
        """All properties that determine the mesh at a given time."""
        yield from self.reader.properties
        for one in self.placement.upwards():
            yield from one.transform.properties
            if one.visible is not None:
                yield one.visible

    @property
    def hidden(self) -> bool:
        """Whether the mesh is never visible."""
        visible_values = [one.visible for one in self.placement.upwards() if one.visible is not None]
        return all(one.constant for one in visible_values) and not self.placement.shown(0.0)

    def sample(self, time: float, uv_set: str | None = None, blend: bool = False) -> MeshSample:
        """Read the mesh at a given time, in its own space.

        Args:
            time: The time, in seconds.
            uv_set: Name of the UV set; None for the main set.
            blend: Whether to interpolate the points between two samples.

        Raises:
            NoSample: There is no sample at that time, and interpolation is off or impossible.
            ArchiveError: The sample is damaged.
        """
        return self.reader.sample(time, uv_set, blend)


class ArchiveScene:
    """The meshes of an archive, placed in the world.

    Attributes:
        archive: The archive. Its `problems` also list objects that can't be placed.
        meshes: The meshes, in the order of the file, with instances expanded.
        not_taken: Number of objects that are not meshes, by kind, such as "curves".
    """

    def __init__(self, archive: Archive) -> None:
        """Place all objects without reading any points or faces.

        Raises:
            ArchiveError: The instances expand to too many objects or to paths that are too long, or reading the
                structure of the file would take too long.
        """
        self.archive = archive
        self.not_taken: Counter[str] = Counter()
        self._readers: dict[str, MeshReader | None] = {}
        self._transforms: dict[str, tuple[Transform, Property | None] | None] = {}
        self.meshes = tuple(self._placed())

    def _placed(self) -> Iterator[PlacedMesh]:
        top = Placement(self.archive.top, None, "/", Transform(self.archive.top), None)
        pending: list[tuple[Object, Placement, str, tuple[str, ...]]] = [
            (child, top, f"/{child.name}", ()) for child in reversed(self.archive.top.children)
        ]
        expanded = 0
        while pending:
            node, above, path, inside = pending.pop()
            expanded += 1
            if expanded > MAX_OBJECTS or len(path) > MAX_PATH:
                raise TooMuchStructure(
                    f"the instances expand to more than {MAX_OBJECTS:,} objects, or to paths of more than "
                    f"{MAX_PATH:,} characters"
                )
            if node.metadata.get("isInstance") == "1":
                original = self._original(node, path, inside)
                if original is None:
                    continue
                node, inside = original, (*inside, original.path)
            placement = self._place(node, above, path)
            if placement is None:
                continue
            if node.schema in MESHES:
                reader = self._reader(node)
                if reader is not None:
                    yield PlacedMesh(placement, reader)
            elif node.schema in _NOT_TAKEN:
                self.not_taken[_NOT_TAKEN[node.schema]] += 1
            below = [child for child in reversed(node.children) if child.schema != FACE_SET]
            pending += [(child, placement, f"{path}/{child.name}", inside) for child in below]

    def _original(self, node: Object, path: str, inside: tuple[str, ...]) -> Object | None:
        """Return the object that an instance refers to. If it can't be used, record a problem and return None.

        `inside` contains the paths of the originals whose instances contain this instance.
        """
        try:
            source = node.properties.property(".instanceSource")
            target = "" if source is None else source.text(0)
        except TooMuchStructure:
            raise
        except ArchiveError as error:
            self.archive.note(path, str(error))
            return None
        original = self.archive.by_path.get(target)
        if original is None or original.parent is None:
            self.archive.note(path, "an instance of an object that doesn't exist")
        elif original.metadata.get("isInstance") == "1":
            self.archive.note(path, "an instance of an instance")
        elif original.path in inside or f"{node.path}/".startswith(f"{original.path}/"):
            self.archive.note(path, "an instance of itself")
        else:
            return original
        return None

    def _place(self, node: Object, above: Placement, path: str) -> Placement | None:
        if node.path not in self._transforms:
            try:
                self._transforms[node.path] = Transform(node), _visibility(node)
            except TooMuchStructure:
                raise
            except ArchiveError as error:
                self.archive.note(path, f"{error} (the objects below it are also left out)")
                self._transforms[node.path] = None
        known = self._transforms[node.path]
        return None if known is None else Placement(node, above, path, *known)

    def _reader(self, node: Object) -> MeshReader | None:
        if node.path not in self._readers:
            try:
                self._readers[node.path] = MeshReader(node)
            except TooMuchStructure:
                raise
            except ArchiveError as error:
                self.archive.note(node.path, str(error))
                self._readers[node.path] = None
        return self._readers[node.path]


def _visibility(node: Object) -> Property | None:
    """Return the property that states whether an object is visible; None if it doesn't exist or can't be used."""
    visible = node.properties.property("visible")
    return visible if visible is not None and visible.header.type == 2 and visible.header.kind == 1 else None


@dataclass(frozen=True, slots=True)
class Clock:
    """Converts between frame numbers and the times of an archive.

    Attributes:
        rate: Frames per second.
        source: Source of the rate: "stated" (by the user), "file", "samples" or "unknown".
        counts: Whether the times are frame numbers instead of seconds. This is assumed if all animated properties use
            the default sampling, which has one sample per second.
    """

    rate: Fraction
    source: str
    counts: bool = False

    def seconds(self, frame: Fraction) -> float:
        """Return the time of a frame, in seconds, or the frame number itself if the attribute `counts` is true."""
        return float(frame if self.counts else frame / self.rate)

    def frame(self, seconds: float) -> Fraction:
        """Return the frame number at a given time, rounded to a multiple of 1 / `_FRAME_STEPS`.

        Args:
            seconds: The time, in seconds; a frame number if `counts` is true.

        Raises:
            ArchiveError: The time is too large for any animation.
        """
        steps = seconds * (1.0 if self.counts else float(self.rate)) * _FRAME_STEPS
        if not abs(steps) < 1e15:
            raise ArchiveError("the time of a sample is too large for an animation")
        return Fraction(round(steps), _FRAME_STEPS)


def clock_of(scene: ArchiveScene, stated: Fraction | None = None) -> Clock:
    """Find the frame rate of a scene, and make the clock.

    Args:
        scene: The scene.
        stated: Frames per second; None if the user states no rate.

    Returns:
        The clock. Its rate is the first of these that is known: the rate that the user states, the rate in the
        metadata, the rate of the sampling with the most samples, and 24 fps.
    """
    used = {one.header.sampling for mesh in scene.meshes for one in mesh.properties if one.header.samples > 1}
    counts = used == {0}
    if stated is not None:
        return Clock(stated, "stated", counts)
    rate = _stated_rate(scene.archive.metadata)
    if rate is not None:
        return Clock(rate, "file", counts)
    samplings = [scene.archive.samplings[index] for index in sorted(used) if index]
    rate = _sampled_rate(max(samplings, key=lambda one: one.largest)) if samplings else None
    return Clock(rate or Fraction(24), "samples" if rate else "unknown", counts)


def _stated_rate(metadata: Mapping[str, str]) -> Fraction | None:
    for key in ("FramesPerTimeUnit", "_ai_DCC_FPS"):
        try:
            rate = float(metadata.get(key, ""))
        except ValueError:
            continue
        if 1 <= rate <= 1000:
            return _plain(rate)
    return None


def _sampled_rate(sampling: TimeSampling) -> Fraction | None:
    gaps = [after - before for before, after in pairwise(sampling.times[:MAX_FRAMES])]
    period = min(gaps, default=0.0) if sampling.acyclic else sampling.period
    if not period > 0 or not 1e-3 < 1 / period < 1e5:
        return None
    rate = 1 / period
    if rate <= _HIGHEST_RATE + 0.01:
        return _plain(rate)
    parts = (Fraction(usual) for usual in _USUAL_RATES if abs(rate / usual - round(rate / usual)) < 1e-6)
    return next(parts, _plain(rate))


def _plain(rate: float) -> Fraction:
    """Return the rate as a simple fraction, such as 24 or 24000/1001."""
    return Fraction(rate).limit_denominator(1001)


def frames_of(scene: ArchiveScene, clock: Clock) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    """Find the frames and sub-frames of an archive: the times at which any property that affects a mesh has a sample.

    If no property has more than one sample, the times of the single samples are used. If these samples have no times,
    the archive has only frame 1.

    Args:
        scene: The scene.
        clock: The clock that converts times to frame numbers.

    Returns:
        The numbers of the whole frames, and the numbers of the sub-frames.

    Raises:
        ArchiveError: A time is too large for any animation, or a property has too many samples.
    """
    spans = {
        (one.header.sampling, one.header.samples, one.constant, one.header.last)
        for mesh in scene.meshes
        for one in mesh.properties
    }
    several = [span for span in spans if span[1] > 1]
    found: set[Fraction] = set()
    for index, samples, constant, last in several:
        sampling = scene.archive.samplings[index]
        count = samples if samples <= MAX_FRAMES else 1 if constant else last + 1
        if count > MAX_FRAMES:
            raise ArchiveError(f"a property has more than {MAX_FRAMES:,} samples")
        if sampling.acyclic:
            count = min(count, len(sampling.times))
        found.update(clock.frame(sampling.time(number)) for number in range(count))
    if not found:
        stills = {index for index, samples, *_ in spans if samples == 1 and index}
        found = {clock.frame(scene.archive.samplings[index].times[0]) for index in stills} or {Fraction(1)}
    whole = tuple(sorted(frame for frame in found if frame.denominator == 1))
    return whole, tuple(sorted(found.difference(whole)))
