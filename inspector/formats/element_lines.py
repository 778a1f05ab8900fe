"""Find the lines of an OBJ file that define the faces, vertices, UVs and normals of a frame."""

from __future__ import annotations

from inspector.formats.frame import Frame


def face_line(frame: Frame, face: int) -> int:
    """Find the line that defines a face.

    Args:
        frame: The frame.
        face: Index of the face, from 0.

    Returns:
        The line number, from 1; 0 if the file is not OBJ.
    """
    if frame.format != "obj":
        return 0
    run = next(run for run in frame.runs if run.start <= face < run.stop)  # its block has one face per line
    return frame.blocks[run.block].first_line + face - run.start


def element_line(frame: Frame, keyword: bytes, element: int) -> int:
    """Find the line that defines a vertex, UV or normal.

    Args:
        frame: The frame.
        keyword: b"v", b"vt" or b"vn".
        element: Index of the element, from 0.

    Returns:
        The line number, from 1; 0 if the file is not OBJ.

    Raises:
        IndexError: The frame has no such element.
    """
    if frame.format != "obj":
        return 0
    left = element
    for block in frame.blocks:
        if block.keyword == keyword:  # it has one element per line
            if left < block.lines:
                return block.first_line + left
            left -= block.lines
    raise IndexError(element)
