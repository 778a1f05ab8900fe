"""Sequences of a few tiny frames in a folder, and the findings about them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from inspector import limits
from inspector.checks.base.finding import Finding
from inspector.checks.base.registry import check_by_id
from inspector.inspection.inspection import FolderInspection, Inspection, inspect_folder
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.sequence.discovery.settings import Settings
from tests.helpers.images import image_file, spots
from tests.helpers.meshes import Mesh, wing

Files = dict[str, bytes]

MATERIALS: Files = {"manta.mtl": b"newmtl skin\nKd 1 1 1\nmap_Kd skin.png\n", "skin.png": image_file(spots())}


def frames(meshes: Mapping[int, Mesh | bytes], stem: str = "manta.") -> Files:
    """Return the files of the frames, without materials."""
    return {
        f"{stem}{number:04}.obj": mesh if isinstance(mesh, bytes) else mesh.text() for number, mesh in meshes.items()
    }


def shot(edits: Mapping[int, Callable[[Mesh], Mesh]] | None = None, numbers: Iterable[int] = range(1, 13)) -> Files:
    """Return a shot of a manta with its library and texture. `edits` maps frame numbers to functions that change the
    meshes of these frames. Without edits, the shot is healthy."""
    meshes = {number: wing(number) for number in numbers}
    for number, edit in (edits or {}).items():
        meshes[number] = edit(meshes[number])
    return MATERIALS | frames(meshes)


def invented(path: str, data: bytes, way: str) -> Files:
    """Return a receipt that states that the frame `path`, with the content `data`, was made by "hold" or "blend"
    (`way`)."""
    entry = {"path": path, "invented": way, "after": hashlib.sha256(data).hexdigest()}
    return {RECEIPT_NAME: json.dumps({"files": [entry]}).encode()}


def wing_at(place: Any) -> Mesh:
    mesh = wing(0)
    return mesh.edit(positions=mesh.positions + np.asarray(place, float))


def along_x(positions: Iterable[float], first: int = 1) -> Files:
    """Return a shot of the wing in one pose, at these x positions, one per frame."""
    return {**MATERIALS, **frames({number: wing_at([x, 0, 0]) for number, x in enumerate(positions, first)})}


def move(motion: Callable[[int], Any], numbers: Iterable[int], of: Callable[[int], Mesh] = lambda _: wing(0)) -> Files:
    """Return a shot in which the whole mesh is displaced by `motion(number)`, (3,)."""
    meshes = {}
    for number in numbers:
        mesh = of(number)
        meshes[number] = mesh.edit(positions=mesh.positions + np.asarray(motion(number), float))
    return MATERIALS | frames(meshes)


def write(folder: Path, files: Mapping[str, bytes]) -> Path:
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return folder


def look_at_all(folder: Path, files: Mapping[str, bytes], **settings: Any) -> FolderInspection:
    """Write the files and inspect the folder. Check that no check has failed."""
    result = inspect_folder(write(folder, files), Settings(**settings))
    for one in result.inspections:
        assert not one.verdict.failed, one.verdict.failed
        for finding in one.findings:
            well_formed(finding)
    return result


def well_formed(finding: Finding) -> None:
    """Check that a finding has only fixes that its check declares, and that its severity is not higher than that of its
    check. Also check that its frames are sorted and unique, and that it has no more locations than allowed."""
    check = check_by_id(finding.check)
    assert finding.severity <= check.severity
    assert set(finding.fixes) <= set(check.fixes)
    assert len(finding.where) <= limits.PLACES_KEPT
    assert list(finding.frames) == sorted(set(finding.frames)), finding


def look(folder: Path, files: Mapping[str, bytes], **settings: Any) -> Inspection:
    result = look_at_all(folder, files, **settings)
    assert len(result.inspections) == 1
    return result.inspections[0]


Heard = tuple[str, str, list[float]]


def heard(inspection: Inspection) -> list[Heard]:
    """Return all findings as check, severity and frame numbers, sorted by the ids of the checks."""
    return sorted(map(heard_once, inspection.findings))


def heard_once(finding: Finding) -> Heard:
    return finding.check, finding.severity.word, [float(number) for number in finding.frames]


def finding_of(inspection: Inspection, check: str) -> Finding:
    (finding,) = (one for one in inspection.findings if one.check == check)
    return finding
