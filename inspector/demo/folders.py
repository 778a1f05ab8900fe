"""Make the files of the demo's folders, and write them to disk."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path

from inspector.demo import buoy, kelp
from inspector.demo.chart_texture import CELL, chart, label, png_bytes, write_word
from inspector.demo.defects import DEFECTS
from inspector.demo.obj_text import library_text, obj_text
from inspector.demo.plants import Files, SpoiltFrame
from inspector.demo.quad_mesh import QuadMesh
from inspector.demo.swim import FRAMES, swim
from inspector.errors import MeshqcError, Refusal
from inspector.names import Name


def demo_files() -> Files:
    """Make all files of the demo.

    Returns:
        The content of each file, by its path in the demo's folder, with forward slashes.
    """
    folders = {"manta": _manta(), "manta_broken": _manta_broken(), "kelp_broken": _kelp_broken(), "buoy": _buoy()}
    return {f"{folder}/{name}": content for folder, files in folders.items() for name, content in files.items()}


def write_demo(folder: Path) -> tuple[Path, ...]:
    """Write the demo's folders into a folder. Files that already exist with the same content are not written again.

    Returns:
        The paths of all files.

    Raises:
        Refusal: A file of the demo already exists with different content; nothing was written.
        MeshqcError: A file can't be written; nothing was written.
    """
    files = {folder / name: content for name, content in demo_files().items()}
    with ExitStack() as undo:
        try:
            for path in [path for path, content in files.items() if not _present(path, content)]:
                _make_folder(path.parent, undo)
                _write(path, files[path], undo)
        except OSError as error:
            place = Name.from_path(error.filename if error.filename is not None else folder)
            raise MeshqcError(f"{place}: the demo could not be written ({error.strerror})") from error
        undo.pop_all()
    return tuple(files)


def _make_folder(path: Path, undo: ExitStack) -> None:
    if not path.is_dir():
        _make_folder(path.parent, undo)
        path.mkdir()
        undo.callback(_remove, path.rmdir)


def _write(path: Path, content: bytes, undo: ExitStack) -> None:
    with path.open("xb") as stream:
        undo.callback(_remove, path.unlink)
        stream.write(content)


def _remove(remove: Callable[[], None]) -> None:
    """Remove a new file or folder, if it can be removed."""
    with suppress(OSError):
        remove()


def _present(path: Path, content: bytes) -> bool:
    if not path.exists():
        return False
    if path.read_bytes() != content:
        raise Refusal(f"{Name.from_path(path)}: already exists with different content; choose another folder")
    return True


def _swim_parts(sequence: str) -> Files:
    library = library_text(("manta_skin", "0.800 0.800 0.800", ["map_Kd textures/manta.png"]))
    skin = chart(columns=12, rows=5, arrow=3)
    # On the back, the word is upright for a viewer towards whom the animal swims. The second word is on the belly.
    write_word(skin, "MANTA", (102, 3 * CELL), 5, turned=True)
    write_word(skin, "MANTA", (102, 9 * CELL), 5)
    return {f"{sequence}.mtl": library, "textures/manta.png": png_bytes(skin)}


def _swim_meshes(sequence: str) -> dict[int, QuadMesh]:
    return {frame: swim(frame, sequence) for frame in FRAMES}


def _manta() -> Files:
    frames = {f"manta.{frame:04}.obj": obj_text(mesh) for frame, mesh in _swim_meshes("manta").items()}
    return _swim_parts("manta") | frames


def _manta_broken() -> Files:
    meshes = _swim_meshes("manta_broken")
    plants = {frame: defect.plant for defect in DEFECTS for frame in defect.frames}
    files = _swim_parts("manta_broken")
    for frame, mesh in meshes.items():
        spot = SpoiltFrame(frame, clean=mesh, before=meshes.get(frame - 1, mesh))
        files |= plants[frame](spot) if frame in plants else spot.file(obj_text(mesh))
    return files


def _kelp_broken() -> Files:
    maps = [f"map_Kd {kelp.MAP_AS_WRITTEN}", f"bump -bm 0.200 {kelp.MAP_AS_WRITTEN}"]
    frond = chart(columns=2, rows=9, arrow=1)
    write_word(frond, "KELP", (180, CELL), 3)
    frames = {f"kelp_broken.{frame:04}.obj": obj_text(kelp.sway(frame)) for frame in kelp.FRAMES}
    return {
        kelp.LIBRARY_PLACE: library_text((kelp.MATERIAL, "0.700 0.750 0.500", maps)),
        kelp.MAP_PLACE: png_bytes(frond),
        "kelp_rest.obj": obj_text(kelp.rest()),
    } | frames


def _buoy() -> Files:
    frames = {f"buoy.{frame:04}.obj": obj_text(buoy.bob(frame)) for frame in buoy.FRAMES}
    materials = [
        (buoy.BODY, "0.800 0.800 0.800", [f"map_Kd {buoy.BODY_MAP}"]),
        (buoy.LABEL, "0.800 0.800 0.800", [f"map_Kd {buoy.LABEL_MAP}"]),
    ]
    return {
        "buoy.mtl": library_text(*materials),
        buoy.BODY_MAP: png_bytes(chart(columns=9, rows=6, arrow=1)),
        buoy.LABEL_MAP: png_bytes(label(480, 200)),
        "captions.toml": buoy.CAPTIONS.encode(),
    } | frames
