"""A swaying kelp frond with faults that are common in real deliveries. All frames have the same faults.

The material library and the texture are not at the paths that the files state.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from inspector.arrays import Floats
from inspector.demo.quad_mesh import ABSENT, QuadMesh, grid_quads, vertex_normals

FRAMES = range(1, 13)
STATED_FRAMES = range(1, 16)
"""The frames of the shot. The last three were never delivered."""
FACTOR = 100.0
"""Factor by which the object is too large, because it was written in centimetres instead of metres."""
LIBRARY_AS_WRITTEN = "Export\\KELP.MTL"
LIBRARY_PLACE = "materials/kelp.mtl"
MAP_AS_WRITTEN = "C:\\show\\tex\\Kelp_Frond.PNG"
MAP_PLACE = "maps/kelp_frond.png"
MATERIAL = "kelp_blade"

_ROWS, _COLUMNS = 50, 5
_LENGTH = 1.815
"""Length along the frond, in metres. The length is a little more than the frond's height, because the frond is never
straight."""
_SWAY = 53.0
"""Number of frames in one cycle of the sway."""


def _frond(phase: float) -> Floats:
    """Return the positions of a ribbon that rises from the sea floor and is bent by a wave, (250, 3), in metres."""
    along = np.linspace(0.0, 1.0, _ROWS)
    middle = (along[:-1] + along[1:]) / 2
    lean = 0.3 * middle * np.sin(phase - 2.6 * middle) + 0.1 * middle
    step = _LENGTH / (_ROWS - 1)
    x = np.concatenate([[0.0], np.cumsum(np.sin(lean) * step)])
    y = np.concatenate([[0.0], np.cumsum(np.cos(lean) * step)])
    width = 0.012 + 0.085 * np.sin(np.pi * along**0.7) ** 0.8
    across = np.linspace(-1.0, 1.0, _COLUMNS)
    turn = (0.5 * along + 0.15 * np.sin(phase - 2.0 * along))[:, None]
    ruffle = 0.02 * across**2 * np.sin(38.0 * along[:, None] + 1.3 * across + phase)
    offset = width[:, None] * across
    points = [x[:, None] + ruffle - np.sin(turn) * offset, y[:, None] + 0.0 * offset, np.cos(turn) * offset]
    return np.stack(points, axis=-1).reshape(-1, 3)


def rest() -> QuadMesh:
    """Make the static model, with the correct size and the UVs that the sequence lost."""
    positions = _frond(0.0)
    quads = grid_quads(np.arange(_ROWS * _COLUMNS, dtype=np.int64).reshape(_ROWS, _COLUMNS).T)
    upward, sideward = np.meshgrid(np.linspace(0.0, 1.0, _ROWS), np.linspace(0.0, 1.0, _COLUMNS), indexing="ij")
    return QuadMesh(
        title="kelp frond, static model",
        object="kelp",
        group="frond",
        library=LIBRARY_AS_WRITTEN,
        material=MATERIAL,
        positions=positions,
        uvs=np.stack([sideward, upward], axis=-1).reshape(-1, 2),
        normals=vertex_normals(positions, quads),
        v=quads,
        vt=quads,
        vn=quads,
    )


def sway(frame: int) -> QuadMesh:
    """Make one frame of the sequence as it was delivered: a hundred times too large and without UVs."""
    model = rest()
    positions = _frond(2 * np.pi * (frame - FRAMES.start) / _SWAY)
    return replace(
        model,
        title=f"kelp frond, frame {frame} of {STATED_FRAMES.start}-{STATED_FRAMES[-1]}",
        positions=positions * FACTOR,
        uvs=np.zeros((0, 2)),
        normals=vertex_normals(positions, model.v),
        vt=np.full_like(model.v, ABSENT),
    )
