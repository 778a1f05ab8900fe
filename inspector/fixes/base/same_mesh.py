"""Find out whether two frames are the same mesh, even if their files differ."""

from __future__ import annotations

import numpy as np

from inspector.fixes.base.faces import states_of
from inspector.formats.frame import Frame


def same_mesh(a: Frame, b: Frame) -> bool:
    """Return whether two frames have exactly the same positions, colours, UVs, normals and faces.

    Each face must also have the same material, group, object and smoothing group. Libraries and textures may differ.
    """
    arrays = [
        *((getattr(a, name), getattr(b, name)) for name in ("positions", "colours", "uvs", "normals")),
        *((getattr(a.corners, name), getattr(b.corners, name)) for name in ("offsets", "v", "vt", "vn")),
    ]
    return all(np.array_equal(ours, theirs) for ours, theirs in arrays) and _states(a) == _states(b)


def _states(frame: Frame) -> list[tuple[int, tuple[object, ...]]]:
    """Merge consecutive runs with the same states. Return, for each merged run, the index after its last face, and its
    states."""
    ranges: list[tuple[int, tuple[object, ...]]] = []
    for run, states in zip(frame.runs, states_of(frame), strict=True):
        if ranges and ranges[-1][1] == states:
            ranges.pop()
        ranges.append((run.stop, states))
    return ranges
