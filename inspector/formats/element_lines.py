"""The line of its file on which an element of a frame is written."""

from __future__ import annotations

from inspector.formats.frame import Frame


def face_line(frame: Frame, face: int) -> int:
    """Line of a face, from 1: a block of faces has one face per line.

    Args:
        frame: The frame.
        face: Index of the face, from 0.

    Returns:
        The line; 0 if the format has no lines.
    """
    if frame.format != "obj":
        return 0
    run = next(run for run in frame.runs if run.start <= face < run.stop)
    return frame.blocks[run.block].first_line + face - run.start


def normal_line(frame: Frame, normal: int) -> int:
    """Line of a normal, from 1.

    Args:
        frame: The frame.
        normal: Index of the normal, from 0.

    Returns:
        The line; 0 if the format has no lines.
    """
    return _line(frame, b"vn", normal)


def uv_line(frame: Frame, uv: int) -> int:
    """Line of a UV, from 1.

    Args:
        frame: The frame.
        uv: Index of the UV, from 0.

    Returns:
        The line; 0 if the format has no lines.
    """
    return _line(frame, b"vt", uv)


def vertex_line(frame: Frame, vertex: int) -> int:
    """Line of a vertex, from 1.

    Args:
        frame: The frame.
        vertex: Index of the vertex, from 0.

    Returns:
        The line; 0 if the format has no lines.
    """
    return _line(frame, b"v", vertex)


def _line(frame: Frame, keyword: bytes, element: int) -> int:
    """Line of an element: a block of vertices, UVs or normals has one per line. 0 if the format has no lines."""
    if frame.format != "obj":
        return 0
    left = element
    for block in frame.blocks:
        if block.keyword == keyword:
            if left < block.lines:
                return block.first_line + left
            left -= block.lines
    raise IndexError(element)
