"""Find the faces and vertices that a finding is about, in one frame, so that pictures can show them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.finding import Finding
from inspector.checks.base.registry import check_by_id
from inspector.formats.frame import Frame
from inspector.names import Name


def _none() -> Indices:
    return np.zeros(0, np.int64)


@dataclass(frozen=True, eq=False)
class AffectedElements:
    """Affected faces and vertices of one frame.

    Attributes:
        faces: Ascending zero-based indices of the faces, (k,).
        vertices: Ascending zero-based indices of the vertices, (m,).
        first_only: Whether only the finding's first few locations are included.
    """

    faces: Indices = field(default_factory=_none)
    vertices: Indices = field(default_factory=_none)
    first_only: bool = False


def affected_elements(finding: Finding, frame: Frame, file: Name, reference: Frame | None) -> AffectedElements:
    """Find the faces and vertices that a finding is about, in one frame.

    If the check's functions return None or don't exist, the elements at the finding's locations in this frame are
    returned. `file` is relative to the inspected folder.
    """
    check = check_by_id(finding.check)
    faces = None if check.affected_faces is None else check.affected_faces(frame, reference)
    vertices = None if check.affected_vertices is None else check.affected_vertices(frame, reference)
    if faces is None and vertices is None:
        return _of_places(finding, frame, file)
    return AffectedElements(_none() if faces is None else faces, _none() if vertices is None else vertices)


def _of_places(finding: Finding, frame: Frame, file: Name) -> AffectedElements:
    """Return the faces and vertices named in the finding's locations in this file, as indices from 0."""
    found: dict[str, list[int]] = {"face": [], "vertex": []}
    for where in finding.where:
        kind, _, number = (where.element or "").partition(" ")
        if where.file == file and kind in found and number.isascii() and number.isdigit():
            found[kind].append(int(number) - 1)
    faces = np.unique(np.array([face for face in found["face"] if face < frame.faces], np.int64))
    vertices = np.unique(np.array([vertex for vertex in found["vertex"] if vertex < len(frame.positions)], np.int64))
    return AffectedElements(faces, vertices, first_only=bool(len(faces) or len(vertices)))
