"""A file that holds a whole animation -> a folder of OBJ frames, checked before it gets its name."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path

from inspector import __version__
from inspector.delivery.deliver import moved
from inspector.delivery.destination import new_place
from inspector.delivery.sources import sha256
from inspector.delivery.staging import Staging, disk_error
from inspector.errors import Cancelled, MeshqcError
from inspector.formats.format import Animation
from inspector.formats.mesh import Material, Mesh
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import library_name, with_own_image
from inspector.formats.wavefront.compose import compose, compose_library
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.names import Name, safe
from inspector.sequence.run.scan import Cancel, never


@dataclass(frozen=True, slots=True)
class Wanted:
    """only: paths of meshes, () for all; frames: their numbers; scale: one constant for all frames; y_up: turn a file
    whose z is up."""

    only: tuple[str, ...]
    frames: tuple[Fraction, ...]
    scale: float = 1.0
    y_up: bool = True


Counts = dict[str, tuple[int, int, int]]
"""File name -> vertices, UVs, faces that were written."""


def unpack(
    path: Path,
    animation: Animation,
    wanted: Wanted,
    out: Path,
    progress: Callable[[int, int], None] = lambda _, __: None,
    cancelled: Cancel = never,
) -> FolderInspection:
    """Write the frames, their library and textures, read them back, check them, and only then give the folder its name.

    Raises Refusal where `out` exists, MeshqcError, Cancelled; nothing stands under the name `out` then.
    """
    staging = Staging(new_place(out), _digest(path, wanted))
    try:
        with staging:
            staging.keep_only(set())
            written, materials = _frames(path, animation, wanted, staging, progress, cancelled)
            _put_materials(path, materials, staging)
            staging.ours()
            after = inspect_folder(staging.files)
            _compare(written, after)
            staging.finish()
    except OSError as error:
        raise disk_error(error, staging) from error
    return moved(after, staging.out)


def _digest(path: Path, wanted: Wanted) -> str:
    status = path.stat()
    state = [__version__, os.fspath(path), status.st_size, status.st_mtime_ns, asdict(wanted)]
    return sha256(json.dumps(state, default=str).encode("ascii"))


def _frames(
    path: Path,
    animation: Animation,
    wanted: Wanted,
    staging: Staging,
    progress: Callable[[int, int], None],
    cancelled: Cancel,
) -> tuple[Counts, dict[Name, Material]]:
    """Write all frames. Returns what they hold, and the materials of all."""
    written: Counts = {}
    materials: dict[Name, Material] = {}
    padding = max(4, len(str(max(wanted.frames))))
    for done, number in enumerate(wanted.frames, 1):
        if cancelled():
            raise Cancelled("stopped; nothing was written")
        mesh = _mesh(path, animation, wanted, number)
        name = f"{path.stem}.{int(number):0{padding}d}.obj"
        staging.put(name, compose(mesh, library_name(path)))
        written[name] = (len(mesh.positions), len(mesh.uvs), len(mesh.corners.sizes))
        materials |= {material.name: material for material in mesh.materials}
        progress(done, len(wanted.frames))
    return written, materials


def _mesh(path: Path, animation: Animation, wanted: Wanted, number: Fraction) -> Mesh:
    try:
        return animation.mesh(number, wanted.only, wanted.scale, wanted.y_up)
    except UnreadableFrame as error:
        raise MeshqcError(f"{safe(path.name)}, frame {number}: {error.words}") from error


def _put_materials(path: Path, materials: dict[Name, Material], staging: Staging) -> None:
    own = [with_own_image(material, path) for material in materials.values()]
    if own:
        staging.put(os.fsdecode(library_name(path).raw), compose_library(own))
    for material in own:
        if material.image is not None and material.image.data is not None:
            staging.put(os.fsdecode(material.image.name.raw), material.image.data)


def _compare(written: Counts, after: FolderInspection) -> None:
    """Hold what the checks read against what was written. Raises MeshqcError."""
    read = {
        os.fsdecode(facts.file.name.raw): (facts.vertices, facts.uvs, facts.faces)
        for one in after.inspections
        for facts in one.series.facts
    }
    for name, counts in written.items():
        if read.get(name) != counts:
            raise MeshqcError(f"{safe(name)}: reads back as another mesh than was written; nothing was unpacked")
