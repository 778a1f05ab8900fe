"""Sheets with caption versions on them, drawn and read."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import numpy as np

from inspector.lettering.caption_file import Version
from inspector.lettering.caption_versions import CaptionCase, caption_cases
from inspector.lettering.sequence_fit import Wanted, fit_sequence
from inspector.lettering.viewpoint import View
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import FrameMaterials, MaterialResolver
from inspector.sequence.series import Series
from tests.helpers.images import image_file
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Files
from tests.helpers.shapes import series_of

_SERIF = "font_source_serif_pro", "SourceSerifPro-Bold.ttf"
_ROUND = "font_fredoka_one", "FredokaOne-Regular.ttf"


def _file(package: str, name: str) -> Path:
    return Path(str(resources.files(package) / "files" / name))


FONTS = {"sans": None, "serif": _file(*_SERIF), "round": _file(*_ROUND)}
"""Three open fonts (SIL Open Font License 1.1): the tool's own, one with serifs, and a wide bold one."""

ROOTS = [path.parent for path in FONTS.values() if path is not None]
WHITE = (255, 255, 255)


def cases_of(
    folder: Path,
    mesh: Mesh | dict[int, Mesh],
    *versions: Version,
    view: View | None = None,
    base: np.ndarray | None = None,
    density: float | None = None,
) -> tuple[CaptionCase, ...]:
    """Versions on frames of a mesh. base (h, w, 3): the colour map of its material `skin`, white by default."""
    meshes = mesh if isinstance(mesh, dict) else {1: mesh}
    image = np.full((180, 320, 3), 255, np.uint8) if base is None else base
    others: Files = {"manta.mtl": b"newmtl skin\nmap_Kd base.png\n", "base.png": image_file(image)}
    named = {number: one.edit(state=("mtllib manta.mtl", "usemtl skin")) for number, one in meshes.items()}
    return read(folder, series_of(folder, named, others), versions, view, density)


def read(
    folder: Path, series: Series, versions: tuple[Version, ...], view: View | None, density: float | None
) -> tuple[CaptionCase, ...]:
    """Versions on a sequence that is in `folder`."""
    scope = Scope(folder, ROOTS)
    materials: FrameMaterials = MaterialResolver(scope).of_frame(series.reference_facts)
    wanted = Wanted(view=view or View(distance=20.0, field_of_view=40.0), density=density)
    return caption_cases(fit_sequence(series, wanted), versions, materials, scope)
