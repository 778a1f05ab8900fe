"""Real sequences as bodies in motion, in which the defects of tests/helpers/mutations.py can be planted.

Planted defects rely on names, numbers, libraries, textures and a diagonal of four units, so these are made up. The
motion, the faces, the UVs, the normals and the assignment of materials are those of the sequences.
"""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from pathlib import Path

import numpy as np

from inspector.sequence.discovery.discover import discover
from tests.helpers.bodies import Body, Take, materials
from tests.helpers.meshes import ABSENT, Corner, Floats, Mesh
from tests.helpers.real import RealSequence

FRAMES = 36
"""Maximum number of frames to take from the middle of a sequence, enough for every defect."""
FEWEST = 20
DIAGONAL = 4.0
_SAME = 2e-4
"""A motion repeats itself if its cycles differ by less than this fraction of the diagonal."""

Faces = tuple[tuple[Corner, ...], ...]


def long_enough(sequence: RealSequence) -> bool:
    """Return whether defects can be planted: something moves, and there are enough frames."""
    return sequence.motion and sequence.frames >= FEWEST


def real_body(sequence: RealSequence) -> Body:
    found = discover(sequence.folder).sequences
    (own,) = (one for one in found if sequence.pattern in ("", one.pattern.text))
    start = max(0, (len(own.files) - FRAMES) // 2)
    meshes = _meshes([frame.path for frame in own.files[start : start + FRAMES]])
    return Body(sequence.name, _traits(meshes), partial(_film, meshes))


def _film(meshes: tuple[Mesh, ...], shape: int, motion: int) -> Take:
    """Return the take. If the two seeds differ, the motion starts after the first third of the frames."""
    count = len(meshes)
    begins = 0 if shape == motion else count // 3
    names = {line.removeprefix("usemtl ") for _, line in meshes[0].marks}
    return Take(
        lambda time: _between(meshes[(begins + int(time)) % count], meshes[(begins + int(time) + 1) % count], time % 1),
        count,
        materials(*sorted(names)) if names else {},
    )


def _between(before: Mesh, after: Mesh, share: float) -> Mesh:
    """Interpolate linearly between two frames. If their numbers of vertices differ, return the nearer frame."""
    if share == 0.0:
        return before
    if before.positions.shape != after.positions.shape:
        return before if share < 0.5 else after
    return before.edit(positions=(1 - share) * before.positions + share * after.positions)


def _traits(meshes: tuple[Mesh, ...]) -> frozenset[str]:
    first = meshes[0]
    same = all(_vertices(mesh) == _vertices(first) for mesh in meshes)
    held = sum(np.array_equal(before.positions, after.positions) for before, after in pairwise(meshes))
    traits = {
        "order": same,
        "triangles": all(len(face) == 3 for face in first.faces) and _neighbours(first) > 20,
        "uvs": same and _complete(first, 1),
        "normals": all(_complete(mesh, 2) for mesh in meshes),
        "materials": len(first.marks) > 1,
        "many": len(first.positions) >= 100,
        "ones": 10 * held < len(meshes),
        "cycle": same and _repeats(np.stack([mesh.positions for mesh in meshes])),
    }
    return frozenset(name for name, holds in traits.items() if holds)


def _vertices(mesh: Mesh) -> list[tuple[int, ...]]:
    return [tuple(v for v, _, _ in face) for face in mesh.faces]


def _neighbours(mesh: Mesh) -> int:
    """Return how many triangles form a quad together with the next triangle in the list of faces."""
    return sum(one[0] == other[0] and one[2] == other[1] for one, other in pairwise(mesh.faces))


def _complete(mesh: Mesh, part: int) -> bool:
    return all(corner[part] != ABSENT for face in mesh.faces for corner in face)


def _repeats(places: Floats) -> bool:
    """Return whether the motion repeats itself, with at least two whole periods."""
    return any(
        float(np.abs(places[period:] - places[:-period]).max()) < _SAME * DIAGONAL
        for period in range(2, len(places) // 2 + 1)
    )


# --- Reading: plain, and independent of the reader under test ---


def _meshes(paths: list[Path]) -> tuple[Mesh, ...]:
    """Read the frames and scale them by the same factor. Frames with equal faces share one tuple of faces."""
    faces: dict[tuple[bytes, ...], tuple[Faces, tuple[tuple[int, str], ...]]] = {}
    read = []
    for path in paths:
        lines = path.read_bytes().replace(b"\\\n", b" ").splitlines()
        v, vt, vn = (_numbers(lines, word, size) for word, size in ((b"v", 3), (b"vt", 2), (b"vn", 3)))
        statements = tuple(line for line in lines if line.startswith((b"f ", b"usemtl ")))
        own, marks = faces.setdefault(statements, _faces(statements))
        read.append(Mesh(v, own, vt, vn, marks=marks))
    scale = DIAGONAL / float(np.linalg.norm(np.ptp(read[0].positions, axis=0)))
    dressed = len(read[0].marks) > 1
    return tuple(
        mesh.edit(
            positions=scale * mesh.positions,
            head=("mtllib manta.mtl", "o manta") if dressed else (),
            marks=mesh.marks if dressed else (),
        )
        for mesh in read
    )


def _numbers(lines: list[bytes], word: bytes, size: int) -> Floats:
    rows = [line.split()[1 : 1 + size] for line in lines if line.startswith(word + b" ")]
    return np.array(rows, float).reshape(-1, size)


def _faces(statements: tuple[bytes, ...]) -> tuple[Faces, tuple[tuple[int, str], ...]]:
    """Return the faces, and where each run of faces with the same material begins.

    The materials are named `skin`, `belly`, `part_2` and so on.
    """
    faces: list[tuple[Corner, ...]] = []
    marks: list[tuple[int, str]] = []
    names: dict[bytes, str] = {}
    for line in statements:
        word, *rest = line.split()
        if word == b"f":
            faces.append(tuple(_corner(corner) for corner in rest))
        else:
            name = names.setdefault(
                b" ".join(rest), ("skin", "belly")[len(names)] if len(names) < 2 else f"part_{len(names)}"
            )
            marks.append((len(faces), f"usemtl {name}"))
    begins = [*(face for face, _ in marks), len(faces)]
    runs = [mark for mark, (here, after) in zip(marks, pairwise(begins), strict=True) if here < after]
    return tuple(faces), tuple(run for before, run in pairwise([(0, ""), *runs]) if run[1] != before[1])


def _corner(text: bytes) -> Corner:
    v, vt, vn = ([int(index) - 1 if index else ABSENT for index in text.split(b"/")] + [ABSENT, ABSENT])[:3]
    return v, vt, vn
