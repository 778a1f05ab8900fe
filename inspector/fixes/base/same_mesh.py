"""Whether two frames are the same mesh, even if their files are written differently."""

from __future__ import annotations

import numpy as np

from inspector.formats.frame import Frame


def same_mesh(a: Frame, b: Frame) -> bool:
    """Whether two frames have the same numbers, to the last digit, and the same faces in the same states.

    The states of a face are its material, group, object and smoothing group. Libraries and textures may differ.
    """
    arrays = [
        *((getattr(a, name), getattr(b, name)) for name in ("positions", "colours", "uvs", "normals")),
        *((getattr(a.corners, name), getattr(b.corners, name)) for name in ("offsets", "v", "vt", "vn")),
    ]
    return all(np.array_equal(ours, theirs) for ours, theirs in arrays) and _states(a) == _states(b)


def _states(frame: Frame) -> list[tuple[int, tuple[object, ...]]]:
    """For each longest range of faces in the same states, the index after its last face, and the states."""
    ranges: list[tuple[int, tuple[object, ...]]] = []
    for run in frame.runs:
        states = run.material, run.group, run.object, run.smoothing
        if ranges and ranges[-1][1] == states:
            ranges.pop()
        ranges.append((run.stop, states))
    return ranges
