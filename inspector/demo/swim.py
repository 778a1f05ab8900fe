"""The swimming manta ray. Its wings flap in a wave that travels outward while it glides along +Z."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.demo import outline
from inspector.demo.outline import ROWS, SPAN, TAIL_ROWS, both_halves
from inspector.demo.quad_mesh import QuadMesh, vertex_normals

FRAMES = range(1, 25)
SPEED = 0.06
"""Speed along +Z, in metres per frame."""
_BEAT = 31.0
"""Number of frames in one beat of the wings. The sequence is shorter than a beat, so that it doesn't loop."""
_BEND = 0.8
"""Amplitude of the angle of the wing tip, in radians."""
_LAG = 1.2
"""Phase by which the wing tip lags behind the root, in radians, so that the wave travels outward."""
_PITCH = 0.3
"""Maximum slope of the wing tip along its chord, in metres of height per metre of length."""


def _slope(span: Floats, phase: float) -> Floats:
    """Return the angle between the wing and the horizontal at each of the given distances from the spine.

    Args:
        span: Distances from the spine, (s,), in metres.
        phase: Phase of the beat at the spine, in radians.

    Returns:
        The angles, (s,), in radians.
    """
    reach = span / SPAN[-1]
    wave: Floats = _BEND * reach**0.8 * np.sin(phase - _LAG * reach) + 0.06 * reach
    return wave


def _middle_surface(phase: float) -> tuple[Floats, Floats]:
    """Return the X and Y coordinates of the middle surface of one half, each (13, 12), in metres.

    They are sums of steps of fixed length along the wing, so that the wing is not stretched.
    """
    step, slope = np.diff(SPAN), _slope((SPAN[:-1] + SPAN[1:]) / 2, phase)
    x = np.concatenate([[0.0], np.cumsum(np.cos(slope) * step)])[:, None]
    y = np.concatenate([[0.0], np.cumsum(np.sin(slope) * step)])[:, None]
    depth, reach = outline.half_depths(), (SPAN / SPAN[-1])[:, None]
    pitch = -_PITCH * reach * np.cos(phase - _LAG * reach) * (depth - (depth[:, :1] + depth[:, -1:]) / 2)
    lobe = -0.07 * np.exp(-(((SPAN - 0.135) / 0.05) ** 2))[:, None] * (1 - ROWS) ** 6
    narrowing = outline.tail_narrowing()
    tail = 0.05 * (narrowing < 1) * TAIL_ROWS * np.sin(phase - 2.2)
    return x * narrowing, y + pitch + lobe + tail


def swim_positions(frame: int) -> Floats:
    """Return the positions in one frame, (600, 3), in metres. The back comes before the belly."""
    time = frame - FRAMES.start
    phase = 2 * np.pi * time / _BEAT + 0.35
    x, y = _middle_surface(phase)
    depth, slope = outline.half_depths(), _slope(SPAN, phase)[:, None]
    heave = -0.05 * np.sin(phase - 0.4)
    forward = SPEED * time + 0.012 * np.sin(2 * phase)
    sheets = []
    for share in (1.2, -0.8):  # the back is higher above the middle surface than the belly is deep
        up = share * outline.half_thickness()
        half_x, half_y = x - np.sin(slope) * up, y + np.cos(slope) * up
        x_y_z = both_halves(half_x, -1), both_halves(half_y, 1) + heave, both_halves(depth, 1) + forward
        sheets.append(np.stack(x_y_z, axis=-1).reshape(-1, 3))
    return np.concatenate(sheets)


def swim(frame: int, sequence: str) -> QuadMesh:
    """Make one frame of the swimming manta ray, without defects.

    Args:
        frame: The frame number.
        sequence: Name of the sequence and of its library: "manta" or "manta_broken".
    """
    positions, quads = swim_positions(frame), outline.faces()
    uvs, uv_numbers = outline.layout()
    return QuadMesh(
        title=f"manta ray, frame {frame} of {FRAMES.start}-{FRAMES[-1]}",
        object="manta",
        group="body",
        library=f"{sequence}.mtl",
        material="manta_skin",
        positions=positions,
        uvs=uvs,
        normals=vertex_normals(positions, quads),
        v=quads,
        vt=uv_numbers,
        vn=quads,
    )
