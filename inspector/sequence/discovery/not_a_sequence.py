"""Recognise numbered files that are not a sequence: parts of a model, shards, levels of detail."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.sequence.measure.facts import FrameFacts

PARTS_OVERLAP = 0.3
"""Two files differ in position if the overlap of their bounding boxes (volume of the intersection divided by volume of
the union) is below this value (common practice, no source)."""

PARTS_SIZE_RATIO = 1.1
"""Two files differ in size if the ratio of the longer to the shorter diagonal of their bounding boxes is above this
value."""

PARTS_SIDE_RATIO = 1.25
"""Maximum side ratio of files with the same proportions. The side ratio of two files is the largest factor by which a
side of the bounding box changes, divided by the smallest such factor (common practice, no source)."""

PARTS_NET = 0.5
"""The sides of bounding boxes count as growing between some files and shrinking between others if their net change is
less than this fraction of their total change. In the net change, growth and shrinkage cancel each other out; in the
total change, they add up."""

LEVEL_RATIO = 1.25
"""Minimum ratio of the vertex counts of neighbouring levels of detail. Most levels halve the count."""

PARTS_SHARE = 0.7
"""The files count as parts if at least this fraction of the pairs of neighbouring files differ as parts of a model do
(see `why_no_sequence`). Mirrored pairs are left out."""


def why_no_sequence(facts: Sequence[FrameFacts]) -> str | None:
    """Return why numbered files are parts of a model or levels of detail instead of frames; None if they can be frames.

    Parts differ from most of their neighbours in topology and number of vertices. In addition, they differ in position
    and size, or in proportions. A difference in proportions counts only if the sides of the bounding boxes grow between
    some files and shrink between others (common practice, no source). Levels of detail have the same position and size,
    and the number of vertices either always falls or always rises.

    Args:
        facts: Facts of the files, in the order of the file numbers.
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
    shapes = (_side_ratio(boxes) > PARTS_SIDE_RATIO) & _goes_to_and_fro(boxes)
    parts = other_topology & ((apart & other_size) | shapes)
    twins = _are_twins(boxes) & ~parts
    if parts.any() and parts.sum() >= PARTS_SHARE * (len(pairs) - twins.sum()) and 3 * twins.sum() <= 2 * len(pairs):
        return "these are parts of a model, not frames: vertex count and bounding box differ too much from file to file"
    if len(pairs) > 1 and not (apart | other_size).any() and _are_levels([one.vertices for one in facts]):
        return "these are levels of detail, not frames: each file has the same shape with a different vertex count"
    return None


def _are_levels(counts: Sequence[int]) -> bool:
    """Return whether the vertex count always rises, or always falls, by a factor of at least LEVEL_RATIO."""
    falls = [before >= LEVEL_RATIO * after > 0 for before, after in pairwise(counts)]
    rises = [after >= LEVEL_RATIO * before > 0 for before, after in pairwise(counts)]
    return all(falls) or all(rises)


def _are_twins(boxes: Floats) -> Flags:
    """For each pair of bounding boxes, (n, 2, 2, 3), return whether the two boxes are mirror images of each other in a
    coordinate plane. The result has the shape (n,)."""
    with np.errstate(over="ignore", invalid="ignore"):
        near = 1e-3 * (boxes[:, 0, 1] - boxes[:, 0, 0]).max(axis=1)
        same = np.abs(boxes[:, 0] - boxes[:, 1]).max(axis=1) <= near[:, None]
        turned = np.abs(boxes[:, 0] + boxes[:, 1, ::-1]).max(axis=1) <= near[:, None]
    return np.asarray((turned & ~same).any(axis=1) & (turned | same).all(axis=1))


def _goes_to_and_fro(boxes: Floats) -> bool:
    """Return whether the sides of the bounding boxes, (n, 2, 2, 3), grow between some files and shrink between
    others."""
    with np.errstate(all="ignore"):
        changes = np.diff(np.log(boxes[:, :, 1] - boxes[:, :, 0]), axis=1)[:, 0]
        net = np.abs(changes.sum(axis=0)) / np.abs(changes).sum(axis=0)
    return bool(np.nanmedian(net) < PARTS_NET) if np.isfinite(net).any() else False


def _side_ratio(boxes: Floats) -> Floats:
    """For each pair of boxes, divide the largest change of any side by the smallest change of any side.

    Shapes: (n, 2, 2, 3) -> (n,). A change is the length of the side in one box divided by its length in the other. If a
    side is shorter than a hundredth of the longest side of its box, that hundredth is used as the length instead.
    """
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        extents = boxes[:, :, 1] - boxes[:, :, 0]
        sides = np.maximum(extents, extents.max(axis=2, keepdims=True) / 100.0)
        ratios = sides[:, 0] / sides[:, 1]
        return np.asarray(np.nan_to_num(ratios.max(axis=1) / ratios.min(axis=1), nan=1.0))


def _overlap(boxes: Floats) -> Floats:
    """Return, for each pair of bounding boxes, the volume of the intersection divided by that of the union.

    Shapes: (n, 2, 2, 3) -> (n,). A tiny length is added to every side, so that a flat box has a volume too.
    """
    extents = boxes[:, :, 1] - boxes[:, :, 0]
    sliver = np.maximum(1e-9 * extents.max(axis=(1, 2)), np.finfo(float).tiny)
    shared = np.minimum(boxes[:, 0, 1], boxes[:, 1, 1]) - np.maximum(boxes[:, 0, 0], boxes[:, 1, 0])
    common = np.prod(np.maximum(shared + sliver[:, None], 0.0), axis=1)
    volumes = np.prod(extents + sliver[:, None, None], axis=2)
    joint = volumes.sum(axis=1) - common
    overlap: Floats = np.divide(common, joint, out=np.ones_like(common), where=joint > 0)
    return overlap
