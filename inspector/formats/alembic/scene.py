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
"""Number of values of each operation of a transform: scale, translate, rotate about an axis, matrix, rotate x, y, z."""

MAX_FRAMES = 100_000
"""Maximum number of frames in an archive: 69 minutes at 24 fps. A file can claim 4 billion samples in 5 bytes."""
_USUAL_RATES = (24, 25, 30, 48, 50, 60)
_HIGHEST_RATE = 60
"""Maximum number of samples per second that are all taken for frames if no rate is stated. With more, some are taken
for sub-frames (common practice, no source).
"""
_FRAME_STEPS = 10_000
"""Number of steps per frame to which frame numbers are rounded, because seconds times frames per second is rarely
exact.
"""


class Transform:
    """The local transform of an object.

    Attributes:
        inherits: States whether the transforms of the objects above apply; None if they always do.
        operations: Codes of the operations; None if there are no operations.
        channels: Numbers that the operations use; None if there are no such numbers.
    """

    def __init__(self, node: Object) -> None:
        """Find the properties.

        Raises:
            ArchiveError: An operation doesn't exist, the operations need more numbers than there are, or the numbers
                are not float64.
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
        """Every property that determines the transform at a given time."""
        yield from (one for one in (self.inherits, self.operations, self.channels) if one is not None)

    def alone(self, time: float) -> bool:
        """Whether the transforms of the objects above are ignored at a time in seconds."""
        if self.inherits is None:
            return False
        index = self.inherits.sampling.at(time, self.inherits.header.samples).index
        return not bool(self.inherits.numbers(index).ravel()[0])

    def matrix(self, time: float, blend: bool = False) -> Matrix:
        """The matrix for row vectors, (4, 4): translation in the last row.

        Args:
            time: The time, in seconds.
            blend: Whether the numbers between two samples are interpolated.

        Raises:
            NoSample: There is no sample at that time and `blend` is off, or the samples can't be interpolated.
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
                    raise NoSample("the operations of a transform change between the two nearest samples")
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
    """Compose operations: M = M_op M for each of them in stored order, so that the last acts first on a row vector.

    Raises:
        ArchiveError: An operation doesn't exist, or a number is missing or not finite.
    """
    if len(values) < Transform._needed(codes):
        raise ArchiveError("a transform has fewer numbers than its operations need")
    if not np.isfinite(values).all():
        raise ArchiveError("a transform is not finite")
    whole, at = np.eye(4), 0
    with np.errstate(over="ignore", invalid="ignore"):
        for code in codes:
            whole = _operation(code, values[at : at + _CHANNELS[code]]) @ whole
            at += _CHANNELS[code]
    if not np.isfinite(whole).all():
        raise ArchiveError("a transform is not finite")
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
        path: Path in the scene; for an object inside an instance, the path through the instance.
        transform: Local transform of the object.
        visible: Visibility of the object; None if it has no visibility of its own.
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
        """The matrix from the object's own space to the world, for row vectors, (4, 4).

        Args:
            time: The time, in seconds.
            blend: Whether transforms between two samples are interpolated.

        Raises:
            NoSample: A transform has no sample at that time and `blend` is off, or its samples can't be interpolated.
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
        """Whether the object is visible at a time in seconds.

        Its own visibility counts. If it has none, that of the nearest object above it with a visibility counts. If
        there is none either, the object is visible.

        Raises:
            ArchiveError: A visibility is damaged.
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
        reader: Reads the samples of the mesh. All instances of a mesh share the reader.
    """

    placement: Placement
    reader: MeshReader

    @property
    def path(self) -> str:
        """Path in the scene; for a mesh inside an instance, the path through the instance."""
        return self.placement.path

    @property
    def properties(self) -> Iterator[Property]:
        """Every property that determines what is visible of the mesh at a given time."""
        yield from self.reader.properties
        for one in self.placement.upwards():
            yield from one.transform.properties
            if one.visible is not None:
                yield one.visible

    @property
    def hidden(self) -> bool:
        """Whether the mesh is never visible. A mesh whose visibility changes over time is not hidden."""
        visible_values = [one.visible for one in self.placement.upwards() if one.visible is not None]
        return all(one.constant for one in visible_values) and not self.placement.shown(0.0)

    def sample(self, time: float, uv_set: str | None = None, blend: bool = False) -> MeshSample:
        """The mesh at a time, in its own space.

        Args:
            time: The time, in seconds.
            uv_set: Name of the UV set to take; None for the main set.
            blend: Whether points between two samples are interpolated.

        Raises:
            NoSample: There is no sample at that time and `blend` is off, or the samples can't be interpolated.
            ArchiveError: The sample is damaged.
        """
        return self.reader.sample(time, uv_set, blend)


class ArchiveScene:
    """An archive as meshes in the world.

    Attributes:
        archive: The archive that was opened; its `problems` list the content that had to be left out.
        meshes: The meshes, in the order of the file, with instances expanded.
        not_taken: Number of objects of each kind that is not a mesh, such as "curves", by the name of the kind.
    """

    def __init__(self, archive: Archive) -> None:
        """Place all objects; no array is read.

        Raises:
            ArchiveError: The instances expand to too many objects, or to paths that are too long.
        """
        self.archive = archive
        self.not_taken: Counter[str] = Counter()
        self._readers: dict[str, MeshReader | None] = {}
        self._transforms: dict[str, tuple[Transform, Property | None] | None] = {}
        self.meshes = tuple(self._placed())

    def _placed(self) -> Iterator[PlacedMesh]:
        """Place all objects, and yield the meshes.

        A stack of objects is used. Each entry also has the paths of the originals whose instances contain the object.
        """
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
                    f"the instances expand to over {MAX_OBJECTS:,} objects, or to paths of over {MAX_PATH:,} characters"
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
        """The object to which an instance refers; None if it can't be used, which is noted as a problem.

        Args:
            node: The instance.
            path: Path of the instance in the scene.
            inside: Paths of the originals whose instances contain this instance.
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
                self.archive.note(path, f"{error} (everything below it is left out too)")
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
    """The property that states whether an object is visible; None if there is no such property."""
    visible = node.properties.property("visible")
    return visible if visible is not None and visible.header.type == 2 and visible.header.kind == 1 else None


@dataclass(frozen=True, slots=True)
class Clock:
    """The correspondence of frames and seconds.

    Attributes:
        rate: Frames per second.
        source: The origin of the rate: "stated" (by the user), "file", "samples" or "unknown".
        counts: Whether the times of the archive are frame numbers instead of seconds. Some writers count samples, one
            per second.
    """

    rate: Fraction
    source: str
    counts: bool = False

    def seconds(self, frame: Fraction) -> float:
        """The time of a frame in the archive, in seconds."""
        return float(frame if self.counts else frame / self.rate)

    def frame(self, seconds: float) -> Fraction:
        """The frame number at a time of the archive.

        Args:
            seconds: The time, in seconds.

        Raises:
            ArchiveError: The time is too large for any animation.
        """
        steps = seconds * (1.0 if self.counts else float(self.rate)) * _FRAME_STEPS
        if not abs(steps) < 1e15:
            raise ArchiveError("the times of the samples are too large")
        return Fraction(round(steps), _FRAME_STEPS)


def clock_of(scene: ArchiveScene, stated: Fraction | None = None) -> Clock:
    """Find the frame rate.

    Args:
        scene: The scene.
        stated: Frames per second, if the user states them.

    Returns:
        The clock. Its rate is the rate that the user or the metadata states; if neither does, that of the sampling with
        the most samples; if that gives no rate either, 24 fps.
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
    """The rate as it is usually written: 24, 24000/1001."""
    return Fraction(rate).limit_denominator(1001)


def frames_of(scene: ArchiveScene, clock: Clock) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    """Find the frames and sub-frames at which a property that affects the picture of a mesh has a sample.

    A static scene has the frame at the time of its samples, or frame 1 if the samples have no time.

    Args:
        scene: The scene.
        clock: The frame rate for counting frames.

    Returns:
        The numbers of the whole frames, and the numbers of the sub-frames.

    Raises:
        ArchiveError: Times are too large for any animation, or there are too many of them.
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
