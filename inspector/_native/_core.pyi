"""The functions of the extension module. All arrays are contiguous and have the dtypes stated here.

A function raises ValueError if a buffer is not aligned, or if its length doesn't match the others.
"""

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

_Text: TypeAlias = bytes | memoryview
_Array: TypeAlias = npt.NDArray[np.generic[Any]]

INTERFACE: int

def read_numbers(
    text: _Text, start: int, keyword: bytes, columns: int, powers: bytes, values: _Array, doubts: _Array, /
) -> tuple[int, int, int, int]:
    """Read whole lines of numbers, up to a line in a different form or until a buffer is full.

    Args:
        text: The bytes of the file.
        start: Byte at which a line begins.
        keyword: First word of each line.
        columns: Count of numbers in each line.
        powers: The powers of five that `inspector._native.powers` returns.
        values: (n, columns) float64. The numbers are written here.
        doubts: (m, 3) int64. For each number whose rounding is in doubt, three values are written here: its index in
            `values`, the first byte of its text, and the byte after its last byte.

    Returns:
        Number of lines read, byte at which the next line begins, maximum number of decimal places, and number of
        numbers whose rounding is in doubt.
    """

def read_faces(
    text: _Text, start: int, keyword: bytes, most: int, v: _Array, vt: _Array, vn: _Array, ends: _Array, /
) -> tuple[int, int, int, bool, bool]:
    """Read whole lines of faces, up to a line in a different form or until a buffer is full.

    Args:
        text: The bytes of the file.
        start: Byte at which a line begins.
        keyword: First word of each line.
        most: Maximum number of corners of a face; the minimum is 3.
        v: (c,) int32. The vertex indices are written here.
        vt: (c,) int32. The UV indices are written here.
        vn: (c,) int32. The normal indices are written here.
        ends: (n,) int64. The number of corners up to the end of each face is written here.

    Returns:
        Number of faces read, number of corners read, byte at which the next line begins, whether the corners have UVs,
        and whether they have normals.
    """

def find_run(text: _Text, start: int, keyword: bytes, /) -> tuple[int, int]:
    """Find the end of a run of lines with the same keyword.

    Args:
        text: The bytes of the file.
        start: Byte at which the first line of the run begins.
        keyword: First word of each line.

    Returns:
        The byte after the run, and its number of lines, at least 1.
    """

def is_same(one: _Array, other: _Array, /) -> bool:
    """Whether two arrays hold the same bytes.

    Args:
        one: The first array, of any dtype.
        other: The second array, of any dtype.
    """

def find_special(text: _Text, /) -> int:
    """Search for bytes that need special treatment.

    Returns:
        The sum of 1 if there is a NUL, 2 if there is a carriage return, 4 if there is a backslash, and 8 if there is a
        byte above 127.
    """

def count_bytes(text: _Text, start: int, /) -> tuple[int, int]:
    r"""Count the line endings and the blanks in the text from a given byte on.

    Args:
        text: The bytes of the file.
        start: The first byte to count.

    Returns:
        Number of \n, and number of blanks: spaces, tabs and \r.
    """

def has_odd_number(text: _Text, /) -> bool:
    """Whether a number after a space, a tab or a slash has an unusual form: +1, .5, 5. or 05."""

def count_decimals(text: _Text, columns: int, /) -> tuple[int, int]:
    """Count the numbers in whole lines, and find out how many decimal places they have.

    Args:
        text: Lines of numbers.
        columns: Number of words after the keyword to examine in each line.

    Returns:
        Number of numbers, and the number of decimal places that all of them have. The latter is -1 if it is not the
        same for all numbers, or if there are no numbers.
    """

def measure_faces(
    positions: _Array,
    normals: _Array,
    offsets: _Array,
    v: _Array,
    vn: _Array,
    closed: bool,
    thresholds: tuple[float, float, float, float],
    flags: _Array,
    /,
) -> tuple[int, float, float, float, tuple[int, int, int, int]]:
    """Measure the faces that have 3 or more corners, each with a vertex; see `surface.shapes.Shapes`.

    Args:
        positions: (n, 3) float64, scene units.
        normals: (k, 3) float64.
        offsets: (f + 1,) int64, as in `Corners`.
        v: (c,) int32, as in `Corners`.
        vn: (c,) int32, as in `Corners`.
        closed: Whether to measure the volume.
        thresholds: Values of NO_AREA, NON_PLANAR, BENDS_IN and AGAINST_COSINE.
        flags: (f,) uint8. For each face, the sum of these values is written here: 1 if it is a zero-area face, 2 if it
            is concave, 4 if it is non-planar, and 8 if its normals point to its back.

    Returns:
        Number of faces measured; sum of the lengths of their first sides, sum of their areas, and sum of their signed
        volumes; number of faces with each flag.
    """

def measure_box(positions: _Array, /) -> tuple[float, float, float, float, float, float] | None:
    """Find the bounding box of positions.

    Args:
        positions: (n, 3) float64.

    Returns:
        Minimum x, y and z, and maximum x, y and z; None if there are no positions, or one is not finite.
    """

def measure_motion(positions: _Array, before: _Array, /) -> tuple[float, int, int]:
    """Measure how far the vertices moved between two frames.

    Args:
        positions: (n, 3) float64, scene units.
        before: (n, 3) float64, the previous frame.

    Returns:
        Sum of the distances, index of the first vertex that moved farthest, and the number of vertices that moved at
        least half as far as that vertex.
    """

def measure_tear(
    positions: _Array, before: _Array, beside: _Array, alike: float, /
) -> tuple[int, float, float, float, float, int]:
    """Measure how far vertices moved relative to the mean movement of their neighbours.

    Args:
        positions: (n, 3) float64, scene units.
        before: (n, 3) float64, the previous frame.
        beside: (n, 4) int32, four neighbours of each vertex.
        alike: Share of the largest squared relative displacement. A vertex with at least this share counts as moving
            like the vertex that moved farthest.

    Returns:
        Index of the first vertex that counts as moving like the vertex that moved farthest, its relative displacement
        x, y, z, the largest squared relative displacement, and the number of vertices that count as moving like it.

    Raises:
        IndexError: A neighbour is not a vertex.
    """

def count_lengths(normals: _Array, low: float, high: float, /) -> int:
    """Count the normals whose squared length is outside a range.

    Args:
        normals: (k, 3) float64.
        low: Lower limit of the range.
        high: Upper limit of the range.
    """

def sort_sides(
    offsets: _Array, ends: _Array, side: _Array, face: _Array, edge: _Array, uses: _Array, /
) -> tuple[int, int]:
    """Sort the sides of all faces by their edges; see `surface.edges.edges_of`.

    Args:
        offsets: (f + 1,) int64, as in `Corners`.
        ends: (c,) int32, a number for each corner.
        side: (c,) int32. The corner at which each side starts is written here.
        face: (c,) int32. The face of each side is written here.
        edge: (c,) int32. The edge of each side is written here.
        uses: (c,) int32. The number of sides of each edge is written here.

    Returns:
        Number of sides, which is the number of values written to `side`, `face` and `edge`; and number of edges, which
        is the number of values written to `uses`.
    """

def find_components(links: _Array, components: _Array, /) -> int:
    """Find the connected component of each node of a graph; see `surface.components.connected`.

    Args:
        links: (l, 2) int32, pairs of linked nodes.
        components: (n,) int32. The component of each node is written here.

    Returns:
        Number of components.

    Raises:
        IndexError: A link refers to a node that doesn't exist.
    """

def find_neighbours(offsets: _Array, v: _Array, beside: _Array, /) -> None:
    """Find four neighbours of each vertex.

    Args:
        offsets: (f + 1,) int64, as in `Corners`.
        v: (c,) int32, as in `Corners`.
        beside: (n, 4) int32. Four neighbours are written here for each vertex: the next vertex in its last face, the
            next in its first face, the previous in its last face, and the previous in its first face. A vertex without
            a face gets its own index.
    """

def connect_faces(offsets: _Array, v: _Array, vertices: int, /) -> tuple[int, int, int, int, int]:
    """Count the connected components and the kinds of edges; see `surface.connections.Connections`.

    Args:
        offsets: (f + 1,) int64, as in `Corners`.
        v: (c,) int32, as in `Corners`.
        vertices: Number of vertices of the frame.

    Returns:
        Numbers of connected components, boundary edges, non-manifold edges, opposed edges and unused vertices.

    Raises:
        IndexError: A corner refers to a vertex that doesn't exist, or belongs to two faces.
    """

def hash_faces(offsets: _Array, v: _Array, /) -> int:
    """Add up the hashes of all faces, modulo 2^64; see `surface.face_set`.

    Args:
        offsets: (f + 1,) int64, as in `Corners`.
        v: (c,) int32, as in `Corners`.
    """

def find_alike(offsets: _Array, v: _Array, flags: _Array, /) -> int:
    """Find faces that may have the same vertices as another face.

    These are the faces with the same number of corners, and the same sum of v * (v + 1) over their corners, as another
    face. Faces with fewer than 3 corners, or with a corner that has no vertex, are left out.

    Args:
        offsets: (f + 1,) int64, as in `Corners`.
        v: (c,) int32, as in `Corners`.
        flags: (f,) uint8. 1 is written for each such face, 0 for the others.

    Returns:
        Number of such faces; -1 if the search was stopped because the faces are built to slow it down.
    """

def find_repeated(offsets: _Array, v: _Array, vertices: int, flags: _Array, /) -> int:
    """Find faces that use a vertex more than once.

    Args:
        offsets: (f + 1,) int64, as in `Corners`.
        v: (c,) int32, as in `Corners`.
        vertices: Number of vertices of the frame.
        flags: (f,) uint8. 1 is written for each such face, 0 for the others.

    Returns:
        Number of such faces.

    Raises:
        IndexError: A corner refers to a vertex that doesn't exist.
    """

def measure_layout(
    uvs: _Array, width: int, offsets: _Array, vt: _Array, no_area: float, rim: float, flags: _Array, /
) -> tuple[float, float, float, float, float, float]:
    """Measure the layout of the faces that have 3 or more corners, each with a finite UV; see `surface.uv_layout`.

    Args:
        uvs: (m, width) float64.
        width: Count of numbers of each UV, 2 or 3.
        offsets: (f + 1,) int64, as in `Corners`.
        vt: (c,) int32, as in `Corners`.
        no_area: Value of NO_AREA.
        rim: Distance from the unit square up to which a face still counts as inside.
        flags: (f,) uint8. 0 is written for each face that is not measured. For each other face, the sum of these values
            is written: 4, 1 if it has no area, and 2 if it is not inside the unit square.

    Returns:
        Minimum u and v, and maximum u and v (infinite if no face is measured); sum of the areas of all faces, and sum
        of the areas of the faces whose corners are clockwise.
    """

def add_layers(
    uvs: _Array,
    width: int,
    offsets: _Array,
    vt: _Array,
    material: _Array,
    low_u: float,
    low_v: float,
    scale_u: float,
    scale_v: float,
    cells: int,
    steps: _Array,
    /,
) -> None:
    """Do the same as `add_steps`, separately for each of a few materials, for the faces that `measure_layout` measures.

    Args:
        uvs: (m, width) float64.
        width: Count of numbers of each UV, 2 or 3.
        offsets: (f + 1,) int64, as in `Corners`.
        vt: (c,) int32, as in `Corners`.
        material: (f,) int64, the material of each face. Faces whose material has no row in `steps` are left out.
        low_u: u of the left side of the grid.
        low_v: v of the lower side of the grid.
        scale_u: Number of cells per unit of u.
        scale_v: Number of cells per unit of v.
        cells: Number of cells along each side of the grid.
        steps: (materials * cells * (cells + 1),) float64, row by row. The changes are added in place.
    """

def add_steps(
    u: _Array,
    v: _Array,
    size: int,
    low_u: float,
    low_v: float,
    scale_u: float,
    scale_v: float,
    cells: int,
    steps: _Array,
    /,
) -> None:
    """Add the changes in the number of layers at the sides of faces; see `surface.uv_layers`.

    In each row of cells that a side crosses, the change is added to the first cell to the right of the side.

    Args:
        u: (size, n) float64, the corners of n faces.
        v: (size, n) float64.
        size: Number of corners of each face.
        low_u: u of the left side of the grid.
        low_v: v of the lower side of the grid.
        scale_u: Number of cells per unit of u.
        scale_v: Number of cells per unit of v.
        cells: Number of cells along each side of the grid.
        steps: (cells * (cells + 1),) float64, row by row. The changes are added in place.
    """

def find_owners(*arrays_and_width: _Array | int) -> None:
    """Find the nearest of k triangles at each pixel. In NumPy, `_owners` in picture/raster.py does the same.

    Args:
        *arrays_and_width: In this order: x, y and nearness, (3, k) float64 each, corners from top to bottom; slope of
            the nearness to the right and down, (2, k) float64; first row and number of rows, (k,) int64 each; owner, (h
            * width,) int32, and nearest, (h * width,) float64; width. Results are written to owner and nearest. For
            pixels where nothing is drawn, owner must hold NONE, and nearest must hold minus infinity.
    """

def resolve(*arrays_and_sizes: _Array | int) -> None:
    """Compute the colours of a picture. In NumPy, `resolved` in picture/smooth.py does the same.

    Args:
        *arrays_and_sizes: In this order: owner, the triangle at each sample, (h * factor, width * factor) int32; planes
            (k, 9) and light (k, 7) float64 and coats (k, 2) int32 of the triangles; pixels uint8, levels (n, 3) int64
            and first level (m, 2) int64 of the textures; picture, (h, width, 3) uint8, which is written in place;
            width; factor.

    Raises:
        IndexError: A triangle or texture doesn't exist.
    """
