"""Meshes and sequences with wrong motion: frames that freeze, jump, jitter or repeat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from inspector.checks.base.finding import Severity
from tests.helpers.meshes import Mesh, wing
from tests.helpers.sequences import Files, look, move, shot
from tests.helpers.surfaces import Edit, ring, sequence


def stuck(*numbers: int) -> dict[str, bytes]:
    """Return a shot in which the frames `numbers` have the pose of the frame before the first of them."""
    return shot(dict.fromkeys(numbers, lambda _: wing(min(numbers) - 1)))


MOST_NOTES = 2


def silent(folder: Path, files: Files, notes: int = MOST_NOTES, **settings: Any) -> None:
    findings = look(folder, files, **settings).findings
    assert [(one.check, one.message, one.frames) for one in findings if one.severity > Severity.NOTE] == []
    assert len(findings) <= notes, findings


def aside(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=mesh.positions + np.array([3.0, 0, 0]))


def scaled(factor: float, about: tuple[float, float, float] | None = None) -> Edit:
    """Return a function that scales a mesh about a point, by default the middle of the bounding box."""

    def edit(mesh: Mesh) -> Mesh:
        middle = (mesh.positions.min(axis=0) + mesh.positions.max(axis=0)) / 2 if about is None else np.array(about)
        return mesh.edit(positions=middle + factor * (mesh.positions - middle))

    return edit


SIXTEENTH = 2 * np.pi / 16


def circle(turns: Sequence[float]) -> Files:
    """Return a shot of the wing on a circle with a radius of 9 units.

    `turns` contains the wing's position on the circle for each frame, in sixteenths of a turn.
    """
    return move(lambda n: [9 * np.cos(turns[n] * SIXTEENTH), 9 * np.sin(turns[n] * SIXTEENTH), 0], range(len(turns)))


DIAGONAL = float(np.linalg.norm(np.ptp(ring(1).positions, axis=0)))


def drifting(edits: Mapping[int, Edit] | None = None) -> Files:
    return sequence(ring, edits)


def noisy(size: float) -> Edit:
    def edit(mesh: Mesh) -> Mesh:
        noise = np.random.default_rng(5).normal(0, size * DIAGONAL / np.sqrt(3), mesh.positions.shape)
        return mesh.edit(positions=mesh.positions + noise)

    return edit


UP = np.array([0.0, 1.0, 0.0])


def lifted(vertices: slice | list[int], way: float = 0.8) -> Edit:
    def edit(mesh: Mesh) -> Mesh:
        positions = mesh.positions.copy()
        positions[vertices] += way * UP
        return mesh.edit(positions=positions)

    return edit


TIP = slice(4, 20, WING := 5)
"""The vertices in the outermost of the wing's five columns, a fifth of all vertices."""
