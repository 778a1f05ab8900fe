"""Lines of OBJ text, and the problems that a reader reports."""

from __future__ import annotations

from inspector.formats.frame import Frame

V = b"v 0 0 0\nv 1 0 0\nv 0 1 0\n"  # lines 1 to 3
VT = b"vt 0 0\nvt 1 0\nvt 0 1\n"


VN = b"vn 0 0 1\n"
FACE = b"f 1 2 3\n"


Problems = dict[str, tuple[int, int]]  # kind of problem: its count, and the line of its first place


def reported(frame: Frame) -> Problems:
    return {problem.kind: (problem.count, problem.places[0].line) for problem in frame.problems}
