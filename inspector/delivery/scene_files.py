"""Convert the delivered frames to another format: a scene file with the whole animation, or one file per frame.

The files are made from the verified OBJ frames, and read back with this tool's own readers. If they match the frames,
they replace the frames.
"""

from __future__ import annotations

import os
import posixpath
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain
from pathlib import Path

import numpy as np
import numpy.typing as npt

from inspector.arrays import Indices, SmallIndices
from inspector.delivery.journal import WrittenFile, sha256
from inspector.delivery.losses import materials_of_frames
from inspector.delivery.staging_folder import Staging
from inspector.errors import Cancelled, MeshqcError, Refusal
from inspector.fixes.base.assets import free_path
from inspector.formats.animation import LARGEST_FRAME, MOST_FRAMES, Animation, Brief, Opening, Take
from inspector.formats.format import Format, SceneFormat, Trait
from inspector.formats.frame import ABSENT, Frame
from inspector.formats.mesh import Image, Material, Mesh, Numbers, corners_of, unit_normals
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import FrameReader
from inspector.formats.registry import all_formats, format_by_id
from inspector.formats.wavefront.decompose import mesh_of
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name
from inspector.sequence.run.replay import replay
from inspector.sequence.run.scan import Cancel
from inspector.surface.triangles import Triangulator
from inspector.units import METRES


@dataclass(frozen=True, slots=True)
class Form:
    """A format to which frames are converted, with the options of the conversion.

    Attributes:
        id: Id of a format other than OBJ.
        unit: Unit of length of the scene; None if it isn't stated.
        rate: Frames per second; None if it isn't stated.
        share_textures: Whether GLB files refer to texture files beside them instead of containing their textures.
    """

    id: str
    unit: str | None = None
    rate: Fraction | None = None
    share_textures: bool = False

    @property
    def format(self) -> Format:
        return format_by_id(self.id)


def forms() -> tuple[str, ...]:
    """List the ids of all formats other than OBJ to which frames can be converted."""
    return tuple(one.id for one in all_formats() if one.write is not None or one.scene is not None)


def limits(form: Form) -> str:
    """Describe how conversion to a format changes frames; empty if nothing changes."""
    cut = (
        ["faces with more than three corners are cut into triangles"]
        if Trait.POLYGONS not in form.format.carries
        else []
    )
    welded = ["faces don't share vertices"] if Trait.SHARED not in form.format.carries else []
    left = [form.format.leaves] if form.format.leaves else []
    return "; ".join([*cut, *welded, *left])


def refuse_numbers(form: Form, sequence: Name, numbers: Sequence[Fraction]) -> None:
    """Check whether a scene file can hold the frame numbers. Formats with one file per frame can hold all numbers.

    Args:
        form: The format to which the frames are converted.
        sequence: Pattern of the sequence, for the message.
        numbers: Frame numbers.

    Raises:
        Refusal: A number is too large, or the first and the last number are too far apart.
    """
    if form.format.scene is None or not numbers:
        return
    if max(map(abs, numbers)) > LARGEST_FRAME:
        raise Refusal(
            f"{sequence}: frame numbers above {LARGEST_FRAME:,} can't be written to {form.format.title} files; "
            "renumber the frames from 1 with the option `--with renumber:start=1,padding=4`"
        )
    if max(numbers) - min(numbers) >= MOST_FRAMES:
        raise Refusal(
            f"{sequence}: a range of more than {MOST_FRAMES:,} frames from first to last can't be written to "
            f"{form.format.title} files; to number the frames from 1 without gaps, use the option `--with "
            "renumber:start=1,padding=4`"
        )


def texture_bytes(inspection: FolderInspection, form: Form) -> int:
    """Return the total size of the textures that are embedded in GLB files, in bytes; 0 for all other formats.

    Args:
        inspection: The frames.
        form: The format to which the frames are converted.
    """
    if form.id != "glb":
        return 0
    return sum(
        sum(len(image.data or b"") for image in {each.image for material in materials for each in material.maps})
        for one in inspection.inspections
        for materials, _ in materials_of_frames(one, form.format)
    )


Progress = Callable[[int, int], None]


def put_scenes(
    form: Form,
    after: FolderInspection,
    files: Sequence[WrittenFile],
    staging: Staging,
    progress: Progress,
    cancelled: Cancel,
) -> list[WrittenFile]:
    """Replace the frames in the staging folder with files in another format.

    Args:
        form: The format.
        after: The inspection of the OBJ frames in the staging folder.
        files: The records of the files in the staging folder.
        staging: The staging folder.
        progress: Receives the number of frames done and the total.
        cancelled: Returns whether to stop.

    Returns:
        The new records of all files in the staging folder.

    Raises:
        Refusal: A frame can't be read, the format can't hold some of the content, or two files would get the same name.
        MeshqcError: A mesh that was read back differs from the mesh that was written.
        OSError: A file can't be written.
        Cancelled: The work was stopped.
    """
    records = {written.path: written for written in files}
    frames = {_place(one, index) for one in after.inspections for index in range(len(one.series.facts))}
    made: dict[str, WrittenFile] = {}
    total, done = len(frames), 0

    def there(place: str) -> WrittenFile | None:
        return made.get(place) or (None if place in frames else records.get(place))

    def taken(place: str, data: bytes) -> bool:
        known = there(place)
        return known is not None and known.sha256 != sha256(data)

    for one in after.inspections:
        whole = _Sequence(form, one, staging, taken)
        for place, data, indices in whole.written():
            if cancelled():
                raise Cancelled("stopped, but finished files are kept; run the same command to resume")
            if taken(place, data) or (_has_frames(form, place) and place in made):
                raise Refusal(
                    f"{Name.from_path(place)}: two files would get this name; give each sequence a folder of its own"
                )
            parts = [records[_place(one, index)] for index in indices]
            if (known := there(place)) is not None:  # a texture with the same content
                parts.append(known)
            staging.put(place, data)
            made[place] = _record(place, data, parts)
            # Textures beside the frames are made from all frames, and are not counted as frames.
            done += len(indices) if _has_frames(form, place) else 0
            progress(done, total)
    libraries = {path for path in records if path.lower().endswith(".mtl")}
    # Only scene files use these textures: GLB files contain theirs or have copies beside them, and other formats with
    # one file per frame have no materials.
    kept = form.format.scene is not None
    textures = {path for path in records if path not in frames | libraries} if kept else set()
    staging.keep_only(set(made) | textures)
    return [*made.values(), *(records[path] for path in sorted(textures))]


def _has_frames(form: Form, place: str) -> bool:
    """Whether a file of the delivery contains frames; a texture doesn't."""
    return os.fsencode(place).endswith(form.format.endings)


def _place(one: Inspection, index: int) -> str:
    return one.context.file_name(index).text


def _record(place: str, data: bytes, parts: Sequence[WrittenFile]) -> WrittenFile:
    """Make the record of a file that replaces other files."""
    return WrittenFile(
        place,
        tuple(dict.fromkeys(source for part in parts for source in part.sources)),
        sha256(data),
        tuple(dict.fromkeys(fix for part in parts for fix in part.fixes)),
        tuple(dict.fromkeys(touch for part in parts for touch in part.touches)),
        parts[0].invented if len(parts) == 1 else None,
    )


_NORMAL_ROUNDING = 1e-6
"""Maximum difference, per component, between a unit normal that was written and the normal as read back. Rounding to
single precision changes a component by at most 2^-24, about 6e-8. Setting the length to 1 rounds the components again.
"""


class _Sequence:
    """One delivered sequence that is being converted."""

    def __init__(self, form: Form, one: Inspection, staging: Staging, taken: Callable[[str, bytes], bool]) -> None:
        unread = [facts for facts in one.series.facts if not facts.readable]
        if unread:
            raise Refusal(f"{unread[0].file.name}: can't be read, so it can't be converted to another format")
        self._form, self._one, self._staging, self._taken = form, one, staging, taken
        self._double_sided = any(facts.boundary_edges for facts in one.series.facts)

    def written(self) -> Iterator[tuple[str, bytes, list[int]]]:
        """Yield the path and content of each file, and the indices of its frames."""
        scene = self._form.format.scene
        yield from self._files() if scene is None else self._scene(scene)

    def _frames(self) -> Iterator[tuple[int, Frame]]:
        indices = list(range(len(self._one.series.facts)))
        for index, frame in zip(indices, replay(self._one.series, indices), strict=True):
            self._refuse_numbers(index, frame)
            yield index, frame

    def _refuse_numbers(self, index: int, frame: Frame) -> None:
        """Check that the values of a frame fit in single precision, which all formats use.

        Raises:
            Refusal: A value is too large, or is not a number.
        """
        form = self._form.format
        carried = {"position": frame.positions}
        carried |= {"UV": frame.uvs[:, :2]} if Trait.UVS in form.carries else {}
        carried |= {"normal": frame.normals} if Trait.NORMALS in form.carries else {}
        for what, values in carried.items():
            if len(values) and not np.abs(values).max() <= np.finfo(np.float32).max:
                name = self._one.series.facts[index].file.name
                raise Refusal(
                    f"{name}: a {what} contains a number that is not finite or is too large for the 32-bit numbers of "
                    f"{form.title}"
                )

    def _files(self) -> Iterator[tuple[str, bytes, list[int]]]:
        form = self._form.format
        write = form.write
        assert write is not None
        triangulator = Triangulator()
        factor = 1.0
        if form.id == "glb" and self._form.unit is not None:  # glTF uses metres (specification 3.4)
            factor = float(METRES[self._form.unit])
        relative = self._one.sequence.relative.text

        def placed(name: str) -> str:
            return posixpath.normpath(posixpath.join(relative, name))

        textures = _TextureFiles(lambda name, data: self._taken(placed(name), data))
        for (index, frame), embedded in zip(self._frames(), self._materials(), strict=True):
            materials = embedded
            if self._form.share_textures:
                materials, files = textures.moved(embedded)
                for name, content in files.items():
                    yield placed(name), content, [index]
            mesh = replace(mesh_of(frame, materials), double_sided=self._double_sided)
            if Trait.POLYGONS not in form.carries:
                mesh = _in_triangles(frame, mesh, triangulator)
            if factor != 1.0:
                mesh = replace(mesh, positions=mesh.positions * factor)
            mesh = replace(mesh, positions=mesh.positions.astype(np.float32))
            place = posixpath.splitext(_place(self._one, index))[0] + form.endings[0].decode()
            data = write(mesh)
            self._compare(place, data, mesh)
            yield place, data, [index]

    def _compare(self, place: str, data: bytes, mesh: Mesh) -> None:
        """Read a file back, and check that it has corners at the same positions as the mesh, in any order.

        Raises:
            MeshqcError: The positions differ.
        """
        again = FrameReader().read(data, Path(place), _nothing_beside)
        if not np.array_equal(_corner_rows(again), _corner_rows(mesh)):
            raise MeshqcError(
                f"{Name.from_path(place)}: the mesh that was read back differs from the mesh that was written; "
                "nothing was delivered"
            )

    def _scene(self, scene: SceneFormat) -> Iterator[tuple[str, bytes, list[int]]]:
        data = self._staging.made(f"scene{scene.ending}", lambda draft: self._write_scene(scene, draft))
        relative = self._one.sequence.relative.text
        place = posixpath.normpath(posixpath.join(relative, self._one.sequence.name.text + scene.ending))
        yield place, data, list(range(len(self._one.series.facts)))

    def _write_scene(self, scene: SceneFormat, draft: Path) -> None:
        facts = self._one.series.facts
        names = dict.fromkeys(name for one in facts for name in one.materials)
        metres = None if self._form.unit is None else METRES[self._form.unit]
        numbers = tuple(one.number for one in facts)
        refuse_numbers(self._form, self._one.sequence.pattern, numbers)
        writer = scene.write(
            draft,
            Brief(
                self._one.sequence.name,
                numbers,
                tuple(names),
                self._form.rate,
                metres,
                uvs=any(one.faces_without_uvs < one.faces for one in facts),
                normals=any(one.faces_without_normals < one.faces for one in facts),
                colours=any(one.colours for one in facts),
                partial_uvs=any(one.faces_without_uvs for one in facts),
                double_sided=self._double_sided,
                missing=self._one.sequence.missing,
            ),
        )
        materials = self._merged_materials()
        for index, frame in self._frames():
            writer.add(numbers[index], mesh_of(frame, materials))
        writer.save()
        self._compare_scene(scene, draft, materials)

    def _compare_scene(self, scene: SceneFormat, path: Path, materials: tuple[Material, ...]) -> None:
        animation = scene.open(path, Opening())
        for index, frame in self._frames():
            number = self._one.series.facts[index].number
            if not _same_scene(_read_again(animation, number), mesh_of(frame, materials)):
                raise MeshqcError(
                    f"{path.name}, frame {number}: the mesh that was read back differs from the mesh that was written; "
                    "nothing was delivered"
                )

    def _materials(self) -> Iterator[tuple[Material, ...]]:
        """Yield the materials of each frame, with their images.

        Raises:
            Refusal: The libraries of a frame define a material in different ways.
        """
        facts = self._one.series.facts
        if Trait.SURFACES not in self._form.format.carries:
            yield from [()] * len(facts)
            return
        for one, (materials, _) in zip(facts, materials_of_frames(self._one, self._form.format), strict=True):
            for name, many in Counter(each.name for each in materials).items():
                if many > 1:
                    raise Refusal(f"{one.file.name}: its libraries define the material {name} in different ways")
            yield materials

    def _merged_materials(self) -> tuple[Material, ...]:
        """Merge the materials of all frames.

        Raises:
            Refusal: A material changes between frames.
        """
        merged: dict[Name, Material] = {}
        for material in chain.from_iterable(self._materials()):
            if merged.setdefault(material.name, material) != material:
                raise Refusal(
                    f"the material {material.name} changes between frames, but a scene file can't store such a "
                    "change; deliver GLB or OBJ frames"
                )
        return tuple(merged.values())


class _TextureFiles:
    """The files to which the images of materials are moved.

    Args:
        taken: Receives the path and the content of a new file; returns whether a file with different content already
            has the path.
    """

    def __init__(self, taken: Callable[[str, bytes], bool]) -> None:
        self._taken = taken
        self._paths: dict[tuple[Name, str], str] = {}

    def moved(self, materials: Iterable[Material]) -> tuple[tuple[Material, ...], dict[str, bytes]]:
        """Move the images of materials to files.

        Args:
            materials: The materials. Each image contains its data.

        Returns:
            The materials, whose images now refer to files; and the content of each new file, by path.
        """
        files: dict[str, bytes] = {}

        def put(image: Image) -> Image:
            data = image.data or b""
            key = image.name, sha256(data)
            if key not in self._paths:
                name, known = posixpath.basename(image.name.text), set(self._paths.values())
                self._paths[key] = free_path("textures", name, lambda path: path in known or self._taken(path, data))
                files[self._paths[key]] = data
            return Image(Name(os.fsencode(self._paths[key])))

        fresh = tuple(
            replace(material, maps=tuple(replace(one, image=put(one.image)) for one in material.maps))
            for material in materials
        )
        return fresh, files


def _read_again(animation: Animation, number: Fraction) -> Mesh:
    """Read the mesh of a frame of a scene. If nothing is visible in the frame, return an empty mesh.

    Raises:
        UnreadableFrame: The frame can't be read.
    """
    try:
        return animation.mesh(number, Take())
    except UnreadableFrame as error:
        if error.problem.kind != "no-mesh":
            raise
        return Mesh(np.zeros((0, 3), np.float32), corners_of(np.zeros(1, np.int64), np.zeros(0, np.int64)))


def _same_scene(again: Mesh, mesh: Mesh) -> bool:
    """Whether the mesh that was read back is equal, in single precision, to the mesh that was written.

    The names of materials may differ, because the format may require other names.
    """
    return (
        np.array_equal(again.positions, mesh.positions.astype(np.float32))
        and np.array_equal(again.corners.v, mesh.corners.v)
        and np.array_equal(again.corners.offsets, mesh.corners.offsets)
        and np.array_equal(again.corners.vt != ABSENT, mesh.corners.vt != ABSENT)
        and np.array_equal(_of_corners(again.uvs, again.corners.vt), _of_corners(mesh.uvs[:, :2], mesh.corners.vt))
        and _same_normals(again, mesh)
        and np.array_equal(_materials_of_faces(again), _materials_of_faces(mesh))
    )


def _of_corners(values: Numbers, slots: SmallIndices) -> npt.NDArray[np.float32]:
    """Return the values of all corners that have a value, in single precision."""
    found: npt.NDArray[np.float32] = values[slots[slots != ABSENT]].astype(np.float32)
    return found


def _same_normals(again: Mesh, mesh: Mesh) -> bool:
    """Whether every corner with a normal other than (0, 0, 0) was read back with a normal in the same direction."""
    slots = mesh.corners.vn
    has = slots != ABSENT
    has[has] = np.any(mesh.normals[slots[has]] != 0, axis=1)
    back = again.corners.vn[has]
    if (back == ABSENT).any():
        return False
    ours, theirs = unit_normals(mesh.normals[slots[has]]), unit_normals(again.normals[back])
    return bool(np.allclose(ours, theirs, rtol=0, atol=_NORMAL_ROUNDING))


def _materials_of_faces(mesh: Mesh) -> Indices:
    """Return the number of each face's material. Materials are numbered in the order of their first use."""
    found = np.zeros(len(mesh.corners.sizes), np.int64)
    numbers: dict[Name | None, int] = {}
    for part in mesh.parts:
        found[part.start : part.stop] = numbers.setdefault(part.material, len(numbers))
    return found


def _nothing_beside(path: Path) -> bytes:
    """Refuse to read a file beside a frame. Comparing a mesh needs no textures.

    Raises:
        OSError: Always.
    """
    raise OSError(0, f"{path.name} is not part of the comparison")


def _in_triangles(frame: Frame, mesh: Mesh, triangulator: Triangulator) -> Mesh:
    """Cut every face of a mesh into triangles. Frames with the same faces are cut in the same way."""
    triangles = triangulator.of(frame)
    cut = triangles.corners.reshape(-1)
    corners = mesh.corners
    starts = np.searchsorted(triangles.face, [part.start for part in mesh.parts])
    stops = np.searchsorted(triangles.face, [part.stop for part in mesh.parts])
    parts = tuple(
        replace(part, start=int(start), stop=int(stop))
        for part, start, stop in zip(mesh.parts, starts, stops, strict=True)
    )
    fresh = corners_of(np.arange(0, len(cut) + 1, 3), corners.v[cut], corners.vt[cut], corners.vn[cut])
    return replace(mesh, corners=fresh, parts=parts)


def _corner_rows(mesh: Mesh | Frame) -> npt.NDArray[np.float32]:
    """Return the positions of all corners in single precision, sorted."""
    rows = mesh.positions[mesh.corners.v].astype(np.float32) + np.float32(0.0)  # changes -0.0 to 0.0
    return rows[np.lexsort(rows.T)]
