"""Give the UVs of one frame to other frames with the same faces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from inspector.arrays import Floats, SmallIndices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_change import changed_faces
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.precision import exact_decimals
from inspector.fixes.base.preview import point_text
from inspector.formats.element_lines import face_line
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.names import safe
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.run.scan import load_frame

UV_DECIMALS = 6
"""Number of decimal places of computed UVs. Rounding moves a UV by less than 0.01 px on a texture of 16,384 px."""


_ALL_EMPTY = "the chosen frames have no vertices"
NAME_DONOR = "name one with from=FILE or --uvs-from FILE"


@dataclass(frozen=True, eq=False)
class UvSet:
    """UVs for frames that have the same faces.

    Attributes:
        uvs: Coordinates, (m, 2 or 3).
        vt: Index in `uvs` at each corner, (c,).
        decimals: Number of decimal places to write.
    """

    uvs: Floats
    vt: SmallIndices
    decimals: int


def donor_of(context: CheckContext, parameters: Parameters) -> tuple[Path, Frame]:
    """Read the donor: the mesh file that the user named as the source of the UVs.

    Args:
        context: The sequence. Its settings may name the file.
        parameters: Values that the user gave. Their `from` takes precedence.

    Raises:
        Refusal: No file is named, the file doesn't exist or has no faces, or a corner has no UV.
        MeshqcError: The file can't be read.
    """
    stated = parameters.get("from", context.settings.uvs_from)
    if stated is None:
        raise Refusal(f"no mesh file with UVs was named; {NAME_DONOR}")
    path = Path(str(stated)).expanduser()
    if not path.is_file():
        raise Refusal(f"{safe(str(path))} is not a file; relative paths are resolved from {safe(str(Path.cwd()))}")
    donor = load_frame(path)
    if not has_whole_uvs(donor):
        fault = "no UVs" if not len(donor.uvs) else "corners without UVs" if donor.faces else "no faces"
        raise Refusal(f"{safe(path.name)} has {fault}")
    return path, donor


def frames_for_uvs(context: CheckContext, frames: tuple[Fraction, ...] | None) -> list[int]:
    """Return the indices of the frames that get UVs, without empty frames.

    Args:
        context: The sequence.
        frames: Frame numbers; None for all frames that can be read.

    Raises:
        Refusal: All these frames are empty, or a given frame doesn't exist or can't be read.
    """
    wanted = tuple(one.number for one in context.series.facts if one.filled) if frames is None else frames
    indices = readable_indices(context, wanted)
    if not indices:
        raise Refusal(_ALL_EMPTY)
    return indices


def frames_without_uvs(context: CheckContext, frames: tuple[Fraction, ...] | None) -> list[int]:
    """Return the indices of the frames that need UVs.

    Args:
        context: The sequence.
        frames: Frame numbers; None for all frames that have corners without UVs.

    Raises:
        Refusal: All corners have UVs, all given frames are empty, or a given frame doesn't exist or can't be read.
    """
    facts = context.series.facts
    wanted = tuple(one.number for one in facts if one.filled and one.faces_without_uvs) if frames is None else frames
    indices = readable_indices(context, wanted)
    if not indices:
        raise Refusal("every frame has UVs at all corners" if frames is None else _ALL_EMPTY)
    return indices


def colour_map_aspect(context: CheckContext) -> float | None:
    """Return the aspect (width over height) of the reference frame's first readable colour map; None if there is
    none."""
    index = context.series.reference_index
    maps = () if index is None else context.materials(index).maps
    for use in maps:
        if use.map.statement.raw.lower() == b"map_kd" and use.target.path is not None:
            size = context.resolver.images.of(use.target.path).size
            if size is not None:
                return size[0] / size[1]
    return None


def uv_set_of(frame: Frame) -> UvSet:
    return UvSet(frame.uvs, frame.corners.vt, exact_decimals(frame.uvs, frame.source_decimals.get(b"vt", 0)))


def has_whole_uvs(frame: Frame) -> bool:
    """Return whether the frame has faces, and every corner has a valid UV."""
    return frame.faces > 0 and not bool((frame.corners.vt == ABSENT).any())


def with_uvs(frame: Frame, given: UvSet) -> Frame:
    """Return the frame with different UVs.

    Args:
        frame: The frame.
        given: The new UVs.
    """
    corners = frame.corners
    return frame.replace(
        uvs=given.uvs,
        corners=Corners(corners.offsets, corners.v, given.vt, corners.vn),
        decimals={b"vt": given.decimals},
    )


def apply_uv_set(frame: Frame, step: Step[UvSet], _: Fraction) -> Frame:
    """Give a frame its new UVs. Fixes that plan a UvSet use this function as their `edit_frame`.

    Args:
        frame: The frame.
        step: The step. Its `work` is the UvSet.
    """
    return with_uvs(frame, step.work)


def faces_differ(source: Frame, source_name: str, frame: Frame, frame_name: str) -> str | None:
    """Describe the difference between the faces of two frames; None if the UVs of `source` fit `frame`.

    Args:
        source: The frame with the UVs.
        source_name: Name of `source` in the message, safe to show.
        frame: The frame that gets the UVs.
        frame_name: Name of `frame` in the message, safe to show.
    """
    for thing, ours, theirs in (
        ("vertex", len(source.positions), len(frame.positions)),
        ("face", source.faces, frame.faces),
    ):
        if ours != theirs:
            return f"{source_name} has {count_of(ours, thing)}, but {frame_name} has {theirs:,}"
    changed = changed_faces(source, frame)
    if not len(changed):
        return None
    face = int(changed[0])
    line = face_line(frame, face)
    if len(changed) == 1:
        return f"face {face + 1} of {frame_name}, on line {line}, differs from the same face of {source_name}"
    return (
        f"{len(changed):,} of {frame.faces:,} faces of {frame_name} differ from those of {source_name}; the first is "
        f"face {face + 1}, on line {line} of {frame_name}"
    )


def refuse_other_faces(context: CheckContext, source: Frame, name: str, indices: Sequence[int]) -> None:
    """Refuse UVs that don't fit a frame. Of several frames with the same faces, only one is compared.

    Args:
        context: The sequence.
        source: The frame with the UVs.
        name: Name of `source` in the message, safe to show.
        indices: Indices of the frames that get the UVs.

    Raises:
        Refusal: A frame has different faces.
        MeshqcError: A frame's file can no longer be read.
    """
    facts = context.series.facts
    first: dict[tuple[int, bytes], int] = {}
    for index in indices:
        first.setdefault((facts[index].vertices, facts[index].topology), index)
    for index in first.values():
        reason = faces_differ(source, name, context.frame(index), f"frame {frame_text(facts[index].number)}")
        if reason is not None:
            raise Refusal(reason)


def uv_changes(context: CheckContext, index: int, given: UvSet) -> tuple[Change, ...]:
    """Return a frame's changes for a preview: its number of UVs, and the first corners whose UV index changes.

    Args:
        context: The sequence.
        index: Index of the frame.
        given: The new UVs.

    Raises:
        MeshqcError: The frame's file can no longer be read.
    """
    frame = context.frame(index)
    before = frame.corners.vt
    label = f"frame {frame_text(context.series.facts[index].number)}"
    changes = [Change(f"{label}, UVs", f"{len(frame.uvs):,}", f"{len(given.uvs):,}")]
    for corner in np.flatnonzero(before != given.vt)[:2].tolist():
        old, new = int(before[corner]), int(given.vt[corner])
        changes.append(Change(f"{label}, corner {corner + 1}", _uv_text(frame.uvs, old), _uv_text(given.uvs, new)))
    return tuple(changes)


def _uv_text(uvs: Floats, index: int) -> str:
    return "none" if index == ABSENT else f"{index + 1} ({point_text(uvs[index, :2])})"


def uv_summary(frames: Sequence[Fraction], whence: str) -> str:
    """Return the summary of a step that gives UVs to frames.

    Args:
        frames: Frame numbers.
        whence: Source of the UVs, in words.
    """
    return f"give {numbers_text(frames)} the UVs of {whence}"
