"""The measurements of one frame, which remain after the frame's arrays are released."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from inspector.formats.frame import LibraryLine
from inspector.formats.problems import Place, Problem
from inspector.names import Name
from inspector.safe_open import FileState, file_state
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.motion_facts import Leap
from inspector.surface.moments import Moments

Digest = bytes
"""A digest, 16 bytes long (8 bytes for `face_set`). Equal digests mean equal content."""


@dataclass(frozen=True, slots=True)
class FileBeside:
    """Another file that the facts of a frame depend on.

    Attributes:
        name: Path relative to the frame's folder.
        state: The identity of its content when it was read (safe_open.file_state); None if there was no such file.
    """

    name: Name
    state: FileState | None

    def unchanged(self, folder: Path, kept: int) -> bool:
        """Whether the file still has the first `kept` values of the recorded state or, if it was missing, is still
        missing."""
        try:
            now = file_state((folder / self.name.text).stat())
        except OSError:
            return self.state is None
        return self.state is not None and now[:kept] == self.state[:kept]


@dataclass(frozen=True, slots=True)
class FrameFacts:
    """The measurements of one frame.

    For an unreadable frame, only number, file and problems are meaningful, and counts are 0.

    Attributes:
        number: Frame number.
        file: The file that was measured.
        readable: Whether the frame could be read completely.
        problems: The problems that were found when the frame was read and measured, one entry per kind.
        vertices: Number of positions in the file.
        uvs: Number of UVs in the file.
        normals: Number of normals in the file.
        faces: Number of faces in the file.
        faces_without_uvs: Number of faces with at least one corner that has no valid UV.
        first_face_without_uvs: Location of the first of these faces; None if there are none.
        box: Minimum x, y, z and maximum x, y, z of the finite positions, in scene units; None if there are none.
        step: Mean distance that a vertex moved since the previous frame file, in scene units. None if there is no
            previous file, vertex counts differ or are 0, or the mean is not finite.
        still: Whether every vertex has the same position as in the previous frame.
        topology: Digest of face sizes and vertex indices.
        uv_indices: Digest of the UV indices of all corners.
        uv_values: Digest of the UV coordinates.
        decimals: Maximum number of decimal places of a position as written.
        objects: Names of objects, in file order.
        materials: Names of materials that faces use, in file order.
        face_materials: Digest of the materials of all faces; b"" if no face has a material.
        libraries: Names of the material libraries that the file refers to, with the lines of the references.
        header: Digest of the words in the comment lines above the first statement; b"" if there are none
            (text_forms.py).
        line_end: The line ending of the file (text_forms.py).
        fixed_decimals: Number of decimal places that all examined positions have; None if it differs or is not certain
            (text_forms.py).
        components: Number of connected components of the faces (surface/connections.py).
        boundary_edges: Number of edges that belong to exactly one face.
        non_manifold_edges: Number of edges that belong to more than two faces.
        opposed_edges: Number of edges whose two faces traverse the edge in the same direction, so that one of the
            faces is flipped.
        unused_vertices: Number of vertices that no face uses.
        face_set: Digest of the faces, independent of their order (surface/face_set.py).
        edge_length: Mean length of the faces' first sides, in scene units (surface/shapes.py).
        area: Area of the surface, in square scene units.
        volume: Enclosed volume by the divergence theorem, in cubic scene units; 0 if the surface is not closed.
        faces_without_normals: Number of faces with at least one corner that has no valid normal.
        groups: Names of groups, in file order.
        smoothing: Digest of the smoothing groups of all faces; b"" if smoothing is off for all faces.
        leap: The vertex that moved farthest since the previous frame; None if no vertex moved, or `step` is None.
        tear: The vertex that moved farthest relative to its neighbours on the surface; None if no vertex did, or `step`
            is None.
        roughness: Roughness of the surface, in scene units (motion_facts.py). None if the previous frame has the same
            number of vertices, no vertex is surrounded by faces, or a value is not finite.
        bump: The vertex that is farthest from the surrounding surface; None if `roughness` is None.
        moments: Distribution of the surface's area (surface/moments.py). None if the previous frame has the same number
            of vertices, the surface has no area, or a value is not finite.
        sample: Positions of a fixed selection of vertices (motion_facts.py).
        relief: Offsets of the vertices of `sample` from the means of their neighbours on the surface; b"" if there are
            no faces (motion_facts.py).
        format: Id of the file's format. Locations in a format without lines of text have line 0.
        library: Materials inside the frame file, as library text.
        images: Names of textures inside the frame file.
        image_digest: Digest of the bytes of these textures; b"" if there are none.
        colours: Whether all vertices have colours.
        uv_box: Minimum u, v and maximum u, v (surface/uv_layout.py); None if no face has a finite UV at every corner.
        uv_tiles: Number of unit squares of UV space that contain the centre of at least one face's UV bounding box
            (surface/uv_layout.py).
        uv_mirrored: Fraction of the UV area that is mirrored, 0 to 1.
        uv_overlap: Of the used area of the texture, the fraction that faces of the same material use more than once, 0
            to 1; None if it was not measured (surface/uv_layout.py).
        uv_step: Largest distance that a UV moved since the previous frame, in texture widths; None if the UVs can't be
            compared (measure/uv_facts.py).
        beside: Other files, such as the buffers of a glTF file, that were read for the frame or, to measure its
            movement, for the previous frame.
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
    face_materials: Digest = b""
    libraries: tuple[LibraryLine, ...] = ()
    header: Digest = b""
    line_end: str = ""
    fixed_decimals: int | None = None
    components: int = 0
    boundary_edges: int = 0
    non_manifold_edges: int = 0
    opposed_edges: int = 0
    unused_vertices: int = 0
    face_set: Digest = b""
    edge_length: float = 0.0
    area: float = 0.0
    volume: float = 0.0
    faces_without_normals: int = 0
    groups: tuple[Name, ...] = ()
    smoothing: Digest = b""
    leap: Leap | None = None
    tear: Leap | None = None
    roughness: float | None = None
    bump: Leap | None = None
    moments: Moments | None = None
    sample: bytes = field(default=b"", repr=False)
    relief: bytes = field(default=b"", repr=False)
    format: str = "obj"
    library: bytes = b""
    images: tuple[Name, ...] = ()
    image_digest: Digest = b""
    colours: bool = False
    uv_box: tuple[float, float, float, float] | None = None
    uv_tiles: int = 0
    uv_mirrored: float = 0.0
    uv_overlap: float | None = None
    uv_step: float | None = None
    beside: tuple[FileBeside, ...] = ()

    @property
    def filled(self) -> bool:
        """Whether the frame could be read and has at least one vertex."""
        return self.readable and self.vertices > 0

    def problem(self, kind: str) -> Problem | None:
        """Return the problem of a kind (a key of problems.KINDS); None if the frame has no such problem."""
        return next((problem for problem in self.problems if problem.kind == kind), None)

    def still_holds(self, portable: bool = False) -> bool:
        """Whether the files in `beside` are unchanged since the frame was measured.

        If `portable` is set, only size and modification time are compared, which are the same on every machine that
        mounts the storage.
        """
        folder = self.file.path.parent
        return all(other.unchanged(folder, 2 if portable else 4) for other in self.beside)
