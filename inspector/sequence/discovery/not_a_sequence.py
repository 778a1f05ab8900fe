"""Numbered files that are not a sequence: parts of a body, shards."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from inspector.arrays import Floats
from inspector.sequence.measure.facts import FrameFacts

PARTS_OVERLAP = 0.3
"""Shared over joint volume of neighbouring boxes below which two files are "elsewhere". A fast mover still overlaps
itself by more from frame to frame at film rates; parts of a body hardly overlap (common practice, no source)."""

PARTS_SIZE_RATIO = 1.1
"""Ratio of box diagonals from which two files differ in size. Breathing motion stays below from frame to frame."""

PARTS_SHARE = 0.7
"""Share of neighbouring pairs that must differ in topology, size and place before files count as parts. Two parts of a
body may happen to be alike (left and right), so not all pairs need to differ."""


def why_no_sequence(facts: Sequence[FrameFacts]) -> str | None:
    """The reason why these numbered files are parts of something rather than frames, or None.

    Frames of a fluid change topology all the time, and a cut pops in place; parts differ in topology, size **and**
    place from nearly every neighbour (common practice, no source).
    """
    pairs = [(a, b) for a, b in pairwise(facts) if a.box is not None and b.box is not None]
    if not pairs:
        return None
    boxes = np.array([[a.box, b.box] for a, b in pairs], float).reshape(-1, 2, 2, 3)
    other_topology = np.array([a.topology != b.topology and a.vertices != b.vertices for a, b in pairs])
    with np.errstate(over="ignore", invalid="ignore"):  # boxes too large to compare don't count as apart
        apart = _overlap(boxes) < PARTS_OVERLAP
        sides = np.linalg.norm(boxes[:, :, 1] - boxes[:, :, 0], axis=2)
        ratio = sides.max(axis=1) / np.maximum(sides.min(axis=1), np.finfo(float).tiny)
    other_size = ratio > PARTS_SIZE_RATIO
    share = (other_topology & apart & other_size).mean()
    if share < PARTS_SHARE:
        return None
    return "vertex count, size and place differ from file to file: these are parts of something, not frames"


def _overlap(boxes: Floats) -> Floats:
    """Shared over joint volume of each pair of boxes, (n, 2, 2, 3) -> (n,). A flat side counts as a sliver."""
    extents = boxes[:, :, 1] - boxes[:, :, 0]
    sliver = np.maximum(1e-9 * extents.max(axis=(1, 2)), np.finfo(float).tiny)
    shared = np.minimum(boxes[:, 0, 1], boxes[:, 1, 1]) - np.maximum(boxes[:, 0, 0], boxes[:, 1, 0])
    common = np.prod(np.maximum(shared + sliver[:, None], 0.0), axis=1)
    volumes = np.prod(extents + sliver[:, None, None], axis=2)
    joint = volumes.sum(axis=1) - common
    overlap: Floats = np.divide(common, joint, out=np.ones_like(common), where=joint > 0)
    return overlap
