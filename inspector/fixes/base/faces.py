"""Replace or drop faces and vertices of a frame.

A run is a list of consecutive faces with the same states, such as the material. Runs keep their order and states.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from inspector.arrays import Flags, Indices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.text_edit import settled, with_lines_kept
from inspector.formats.frame import ABSENT, Corners, FaceRun, Frame
from inspector.formats.problems import KINDS
from inspector.sequence.discovery.frame_ranges import numbers_text

FACE_COMMENTS = " Comments on face lines are dropped. To keep them as separate lines, also apply `clean-text`."
"""Last sentences of `Fix.does` or `Fix.cost` in fixes that use `with_faces`."""

_COMMENT = re.compile(rb"#[^\r\n]*")


def with_faces(frame: Frame, corners: Corners, counts: Sequence[int]) -> Frame:
    """Return the frame with different faces in the same runs. Comments on face lines are dropped.

    Args:
        frame: The frame.
        corners: The new faces, in the order of the runs.
        counts: Number of new faces in each run.
    """
    stops = np.cumsum(counts).tolist()
    runs = tuple(
        replace(run, start=stop - count, stop=stop) for run, stop, count in zip(frame.runs, stops, counts, strict=True)
    )
    return replace(frame, data=_without_comments(frame), runs=runs).replace(corners=corners)


def _without_comments(frame: Frame) -> bytes:
    """Return the frame's text without the comments on face lines. Spaces take their place, so that positions in the
    text stay valid."""
    data = frame.data
    if b"#" not in data:
        return data
    for block in (frame.blocks[run.block] for run in frame.runs):
        piece = data[block.start : block.stop]
        if b"#" in piece:
            blank = _COMMENT.sub(lambda match: b" " * len(match.group()), piece)
            data = data[: block.start] + blank + data[block.stop :]
    return data


def counts_of(runs: Sequence[FaceRun], faces: Indices) -> list[int]:
    """Count the given faces in each run.

    Args:
        runs: The runs of a frame.
        faces: Indices of the faces, (k,).
    """
    return [int(((faces >= run.start) & (faces < run.stop)).sum()) for run in runs]


def run_of_face(frame: Frame) -> Indices:
    """Return the index of each face's run, (f,)."""
    return np.repeat(np.arange(len(frame.runs)), [run.stop - run.start for run in frame.runs])


OTHER_STATES = (
    "the objects, groups, smoothing groups or materials of the faces differ from those in the reference frame"
)
"""Reason for a refusal if `states_of` differs between a frame and the reference frame."""


def states_of(frame: Frame) -> list[tuple[object, ...]]:
    """Return the material, group, object and smoothing group of each run of faces."""
    return [(run.material, run.group, run.object, run.smoothing) for run in frame.runs]


def with_faces_kept(frame: Frame, faces: Indices) -> Frame:
    """Return the frame with only some of its faces.

    Args:
        frame: The frame.
        faces: Indices of the faces to keep, ascending, (k,).
    """
    return with_faces(frame, frame.corners.picked(faces), counts_of(frame.runs, faces))


def with_vertices_kept(frame: Frame, keep: Flags) -> Frame:
    """Return the frame with only some of its vertices. Its faces get new vertex indices.

    Args:
        frame: The frame.
        keep: For each vertex, whether to keep it, (n,). Every vertex that a face uses must be kept.
    """
    number = (np.cumsum(keep) - 1).astype(np.int32)
    corners = frame.corners
    renamed = Corners(corners.offsets, number[corners.v], corners.vt, corners.vn)
    return with_lines_kept(settled(frame.replace(corners=renamed)), b"v", keep)


def used_vertices(frame: Frame, faces: Indices | None = None) -> Flags:
    """Return whether each vertex is used by a face, (n,).

    Args:
        frame: The frame.
        faces: Indices of the faces to consider, (k,); None for all faces.
    """
    used = np.zeros(len(frame.positions), bool)
    corners = frame.corners if faces is None else frame.corners.picked(faces)
    used[corners.v[corners.v != ABSENT]] = True
    return used


ILLEGAL_FACES = "the reference frame has no faces, or has a face with fewer than three corners or with a missing vertex"
"""Reason for a refusal if `has_legal_faces` is false for the reference frame."""


def has_legal_faces(frame: Frame) -> bool:
    """Return whether the frame has faces, each face has at least three corners, and all corners have valid vertices."""
    return frame.faces > 0 and int(frame.corners.sizes.min()) >= 3 and not bool((frame.corners.v == ABSENT).any())


def refuse_mixed_faces(context: CheckContext) -> None:
    """Refuse a sequence whose frames differ in their vertex counts or faces. Empty and unreadable frames are ignored.

    Raises:
        Refusal: A frame differs from the reference frame, or no frame can be read.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    base = series.reference_facts
    other = [
        one.number
        for one in series.facts
        if one.filled and (one.vertices, one.topology) != (base.vertices, base.topology)
    ]
    if other:
        raise Refusal(
            f"{numbers_text(other)} {'differs' if len(set(other)) == 1 else 'differ'} from the reference frame in "
            "vertex count or faces; this fix needs the same vertex count and the same faces on all frames"
        )


def refuse_other_users(context: CheckContext) -> None:
    """Refuse a sequence with points, lines or free-form elements, because their vertex indices can't be updated.

    Raises:
        Refusal: A frame has such elements.
    """
    for kind in ("not-polygonal", "free-form"):
        found = [one.number for one in context.series.facts if one.problem(kind) is not None]
        if found:
            raise Refusal(
                f"{numbers_text(found)} {'has' if len(set(found)) == 1 else 'have'} {KINDS[kind]}; this fix can't "
                "update the vertex indices of these elements"
            )
