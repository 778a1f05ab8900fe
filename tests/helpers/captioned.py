"""Draw caption versions on sheets, and judge them."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import numpy as np

from inspector.lettering.caption_file import Version
from inspector.lettering.caption_versions import CaptionCase, caption_cases
from inspector.lettering.sequence_fit import FitRequest, fit_sequence
from inspector.lettering.viewpoint import View
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import FrameMaterials, MaterialResolver
from inspector.sequence.series import Series
from tests.helpers.images import image_file
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Files, frames, write
from tests.helpers.shapes import series_of, sheet_mesh
from tests.helpers.zbuffer import seen_uvs, shown

_SERIF = "font_source_serif_pro", "SourceSerifPro-Bold.ttf"
_ROUND = "font_fredoka_one", "FredokaOne-Regular.ttf"


def _file(package: str, name: str) -> Path:
    return Path(str(resources.files(package) / "files" / name))


FONTS = {"sans": None, "serif": _file(*_SERIF), "round": _file(*_ROUND)}
"""Three open fonts (SIL Open Font License 1.1): the tool's own font, a font with serifs, and a wide bold font."""

ROOTS = [path.parent for path in FONTS.values() if path is not None]
WHITE = (255, 255, 255)
SHEET = sheet_mesh(lambda u, v: (16 * u - 8, 9 * v - 4.5, 0 * u), 4, 4)
VIEW = View(side=(0, 0, 1), distance=20.0, field_of_view=40.0, width=960, height=540)

STATE = ("mtllib manta.mtl", "usemtl skin")
LIBRARY: Files = {
    "manta.mtl": b"newmtl skin\nmap_Kd base.png\n",
    "base.png": image_file(np.full((180, 320, 3), 255, np.uint8)),
}


def cases_of(
    folder: Path,
    mesh: Mesh | dict[int, Mesh],
    *versions: Version,
    view: View | None = None,
    base: np.ndarray | None = None,
    density: float | None = None,
) -> tuple[CaptionCase, ...]:
    """Draw and judge caption versions on the frames of a mesh. Return one case per version.

    Args:
        folder: The folder to write to.
        mesh: The mesh of frame 1, or meshes by frame number.
        *versions: The caption versions.
        view: The camera; by default 20 units away, with a field of view of 40 degrees.
        base: The colour map of the material `skin`, (h, w, 3); white by default.
        density: The requested texel density, in pixels per unit.
    """
    meshes = mesh if isinstance(mesh, dict) else {1: mesh}
    others = LIBRARY if base is None else LIBRARY | {"base.png": image_file(base)}
    named = {number: one.edit(state=STATE) for number, one in meshes.items()}
    return read(folder, series_of(folder, named, others), versions, view, density)


def read(
    folder: Path, series: Series, versions: tuple[Version, ...], view: View | None, density: float | None
) -> tuple[CaptionCase, ...]:
    scope = Scope(folder, ROOTS)
    materials: FrameMaterials = MaterialResolver(scope).of_frame(series.reference_facts)
    wanted = FitRequest(view=view or View(distance=20.0, field_of_view=40.0), density=density)
    return caption_cases(fit_sequence(series, wanted), versions, materials, scope)


def seen_ink(mesh: Mesh, case: CaptionCase) -> np.ndarray:
    """Return which pixels of the frame show a letter, (height, width). The letters are black on white."""
    assert case.lettered is not None
    shot = case.lettered.shot
    quads = [np.array([corner[:2] for corner in face]) for face in mesh.faces]
    ends = np.concatenate([[quad[[0, 1, 2]], quad[[0, 2, 3]]] for quad in quads])
    positions, uvs = mesh.positions[ends[..., 0]], mesh.uvs[ends[..., 1]]
    camera = shot.camera
    seen = seen_uvs(positions, uvs, camera.position, camera.target, camera.field_of_view, shot.width, shot.height)
    texture = case.lettered.rendered.pixels[..., :3].mean(axis=2)
    return np.isfinite(seen).all(axis=2) & (shown(texture, seen) < 128)


def overlap(one: np.ndarray, other: np.ndarray) -> float:
    return float((one & other).sum() / (one | other).sum())


CAPTIONS = """\
[defaults]
material = "skin"
colour = "#000000"
box = [80, 60, 240, 120]

[[version]]
name = "en"
texts = ["HELLO"]
frames = "1-2"

[[version]]
name = "pale"
texts = ["HELLO"]
colour = "#eeeeee"
"""
"""A captions file. The version `en` is legible in its frames; `pale` is not legible in any frame."""


def lettered_folder(folder: Path, captions: str = CAPTIONS) -> Path:
    away = SHEET.edit(positions=SHEET.positions * (-1, 1, 1))
    meshes = {number: one.edit(state=STATE) for number, one in {1: SHEET, 2: SHEET, 3: away}.items()}
    return write(folder, LIBRARY | {"captions.toml": captions.encode()} | frames(meshes))
