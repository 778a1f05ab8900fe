"""The few numbers of one frame that survive when its arrays are let go."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from inspector.formats.frame import LibraryLine
from inspector.formats.problems import Place, Problem
from inspector.names import Name
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.motion_facts import Leap

Digest = bytes
"""16 bytes of BLAKE2b over an array's bytes. Equal digests: equal arrays."""


@dataclass(frozen=True, slots=True)
class FrameFacts:
    """One frame, measured. Of an unreadable frame only number, file and problems mean something; counts are 0.

    box: (x, y, z minimum, x, y, z maximum) of the finite positions, scene units. step: mean distance that a vertex
    moved since the frame file before, scene units; None for the first, or where vertex counts differ or a number is
    bad. still: every position equals the frame before's. leap: the vertex that moved farthest, None where nothing did.
    sample: see sequence/motion_facts.py. topology covers face sizes and vertex indices; uv_indices
    the UV index of every corner; uv_values the UV coordinates. header, line_end, fixed_decimals: see sequence/forms.py;
    header is a digest, b"" without a header. pieces to volume: see surface/connections.py,
    face_set.py and shapes.py. smoothing: a digest of which faces are in which smoothing group, b"" where it is off.
    format, library, images: as in Frame; where the format has no lines of text, places have line 0 and what is told
    of text says nothing.
    uv_box to uv_overlap: see surface/uv_layout.py; uv_step: sequence/uv_facts.py.
    """

    number: Fraction
    file: FrameFile
    readable: bool
    problems: tuple[Problem, ...]
    vertices: int = 0
    uvs: int = 0
    normals: int = 0
    faces: int = 0
    faces_without_uvs: int = 0
    first_face_without_uvs: Place | None = None
    box: tuple[float, float, float, float, float, float] | None = None
    step: float | None = None
    still: bool = False
    topology: Digest = b""
    uv_indices: Digest = b""
    uv_values: Digest = b""
    decimals: int = 0
    objects: tuple[Name, ...] = ()
    materials: tuple[Name, ...] = ()
    libraries: tuple[LibraryLine, ...] = ()
    header: Digest = b""
    line_end: str = ""
    fixed_decimals: int | None = None
    pieces: int = 0
    boundary_edges: int = 0
    non_manifold_edges: int = 0
    unused_vertices: int = 0
    face_set: Digest = b""
    edge_length: float = 0.0
    area: float = 0.0
    volume: float = 0.0
    faces_without_normals: int = 0
    groups: tuple[Name, ...] = ()
    smoothing: Digest = b""
    leap: Leap | None = None
    sample: bytes = field(default=b"", repr=False)
    format: str = "obj"
    library: bytes = b""
    images: tuple[Name, ...] = ()
    uv_box: tuple[float, float, float, float] | None = None
    uv_tiles: int = 0
    uv_mirrored: float = 0.0
    uv_overlap: float | None = None
    uv_step: float | None = None

    def problem(self, kind: str) -> Problem | None:
        """The problem of that kind (a key of problems.KINDS), if the reader met any."""
        return next((problem for problem in self.problems if problem.kind == kind), None)
