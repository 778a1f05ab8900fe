"""Measure the UVs of one frame. The layout is computed once for consecutive frames that share it."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

import numpy as np

from inspector.formats.frame import Frame
from inspector.sequence.measure.surface_facts import Fault, faults_of, known_faults
from inspector.surface.islands import face_materials
from inspector.surface.uv_layout import lay_out

if TYPE_CHECKING:
    from inspector.sequence.measure.facts import FrameFacts

_KINDS = ("uv-crossing", "uv-collapsed")


class UvValues(TypedDict):
    """The measurements of the UVs. Each field becomes the field of FrameFacts that has the same name."""

    uv_box: tuple[float, float, float, float] | None
    uv_tiles: int
    uv_mirrored: float
    uv_overlap: float | None


def uv_values(frame: Frame, known: FrameFacts | None) -> tuple[UvValues, list[Fault]]:
    """Measure the UVs of a frame, and find the faults in the UVs of its faces.

    Args:
        frame: The frame.
        known: The facts of a frame with the same layout (`same_layout`), from which values are copied; None if there is
            no such frame.
    """
    if known is not None:
        return {
            "uv_box": known.uv_box,
            "uv_tiles": known.uv_tiles,
            "uv_mirrored": known.uv_mirrored,
            "uv_overlap": known.uv_overlap,
        }, known_faults(known, _KINDS)
    layout = lay_out(frame.corners, frame.uvs, face_materials(frame)[1])
    return {
        "uv_box": layout.box,
        "uv_tiles": layout.tiles,
        "uv_mirrored": layout.mirrored,
        "uv_overlap": layout.overlap,
    }, faults_of(zip(_KINDS, (layout.crossing, layout.collapsed), strict=True))


def same_layout(frame: Frame, before: Frame) -> bool:
    """Whether two frames have equal materials, and use the same array objects for `offsets`, `v`, `vt` and `uvs`.

    The vertex indices, `v`, are compared because UV islands depend on them.
    """
    return (
        frame.corners.offsets is before.corners.offsets
        and frame.corners.v is before.corners.v
        and frame.corners.vt is before.corners.vt
        and frame.uvs is before.uvs
        and _materials(frame) == _materials(before)
    )


def _materials(frame: Frame) -> list[tuple[int, int, object]]:
    return [(run.start, run.stop, run.material) for run in frame.runs]


@np.errstate(over="ignore", invalid="ignore")  # a distance beyond float64 can't be compared
def uv_step(frame: Frame, before: Frame | None) -> float | None:
    """Return the largest distance by which a UV has moved since the previous frame, in texture widths.

    None for the first frame. Also None if the vertex indices, the UV indices or the number of UVs differ from those of
    the previous frame, or if a UV is not finite.
    """
    if before is None or frame.corners.vt is not before.corners.vt or frame.corners.v is not before.corners.v:
        return None
    if frame.uvs is before.uvs or not len(frame.uvs):
        return 0.0
    if frame.uvs.shape != before.uvs.shape:
        return None
    u, v = (frame.uvs - before.uvs)[:, :2].T
    step = float(np.sqrt((u * u + v * v).max()))
    return step if np.isfinite(step) else None
