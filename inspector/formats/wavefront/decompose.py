"""An OBJ frame and its materials as a mesh for other formats: the way out."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable

import numpy as np

from inspector.formats.frame import Frame
from inspector.formats.mesh import Image, Material, Mesh, Part
from inspector.formats.wavefront.library import Library
from inspector.formats.wavefront.map_options import is_number


def mesh_of(frame: Frame, materials: tuple[Material, ...] = ()) -> Mesh:
    """Arrays as they are; two of a UV's numbers; a part for each run of faces with one object and material."""
    parts = tuple(Part(run.start, run.stop, run.object, run.material) for run in frame.runs)
    return Mesh(frame.positions, frame.corners, frame.uvs[:, :2], frame.normals, parts, materials, frame.colours)


def materials_of(library: Library, images: dict[int, Image]) -> Iterable[Material]:
    """Each material's diffuse colour and opacity, the last statement of each kind, and its image. images: by where the
    map's name stands in the library. Source: MTL File Formats 4.2, 1995."""
    maps = [line for line in library.maps if line.statement.raw.lower() == b"map_kd"]
    starts = [line.start for line in maps]
    for definition in library.definitions:
        said = {one.keyword: one.rest.split() for one in library.statements(definition)}
        last = bisect_left(starts, definition.stop) - 1
        yield Material(
            definition.name,
            _colour(said.get(b"kd", [])),
            _opacity(said),
            images.get(starts[last]) if last >= 0 and starts[last] >= definition.start else None,
        )


def _colour(words: list[bytes]) -> tuple[float, float, float] | None:
    """`Kd r [g b]`: green and blue are as red where they are left out."""
    if not words or not all(map(is_number, words[:3])):
        return None
    numbers = [float(word) for word in words[:3]]
    return (numbers[0], numbers[1], numbers[2]) if len(numbers) == 3 else (numbers[0],) * 3


def _opacity(said: dict[bytes, list[bytes]]) -> float:
    """`d` is opacity, `Tr` its opposite (not in the document; as most writers mean it); d goes first."""
    for keyword, turned in ((b"d", False), (b"tr", True)):
        words = said.get(keyword, [])
        if words and is_number(words[-1]) and np.isfinite(float(words[-1])):
            value = min(max(float(words[-1]), 0.0), 1.0)
            return 1.0 - value if turned else value
    return 1.0
