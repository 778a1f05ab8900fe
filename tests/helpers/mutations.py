"""Defects that are planted in healthy shots, one at a time, and what a verdict must report about each defect.

Sizes are fractions of the diagonal of the first frame's bounding box. If many vertices move, the size is the root mean
square of their displacements. The sizes were fixed before anything was measured.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.helpers.bodies import Body, Shot, frame_name
from tests.helpers.meshes import ABSENT, Corner, Floats, Mesh, with_faces
from tests.helpers.sequences import Files

Random = np.random.Generator

QUIET_ENDS = 7
"""No defect is planted in this many frames at each end of a shot, unless the kind of defect concerns an end."""


@dataclass(frozen=True, eq=False)
class Mutant:
    """A shot with one defect.

    Attributes:
        files: The content of the frames and companions, by name.
        frames: The numbers of the wrong frames. Empty if the whole shot is wrong.
        settings: What the user states about the folder.
        line: The line number of the defect in the first wrong frame. None if a verdict need not report a line.
    """

    files: Files
    frames: tuple[int, ...] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)
    line: int | None = None


@dataclass(frozen=True, eq=False)
class Mutation:
    """A kind of defect.

    Attributes:
        name: What is planted, with its size.
        causes: A verdict must name all these causes.
        plant: Makes the mutant.
        needs: The traits of a body that the defect relies on.
        level: The minimum severity of the finding.
        share: A verdict must name at least this fraction of the wrong frames.
        margin: Instead of a wrong frame, a verdict may name a frame at most this many frames before or after it.
    """

    name: str
    causes: tuple[str, ...]
    plant: Callable[[Shot, Random], Mutant]
    needs: frozenset[str] = frozenset()
    level: str = "warning"
    share: float = 1.0
    margin: int = 0

    def fits(self, body: Body) -> bool:
        return self.needs <= body.traits

    def mutant(self, shot: Shot, seed: int) -> Mutant:
        """Plant the defect in a shot. The result is the same for the same seed."""
        return self.plant(shot, np.random.default_rng([seed, zlib.crc32(self.name.encode())]))


# --- Where to plant ---


def steps_of(shot: Shot) -> Floats:
    """Return how far the surface moves from the previous frame to each frame, (n,); 0 for the first frame."""
    if "order" in shot.body.traits:
        places = np.stack([mesh.positions for mesh in shot.meshes])
    else:  # vertices have no fixed numbers: use the middle and the extent along each axis
        places = np.stack([np.stack([mesh.positions.mean(0), mesh.positions.std(0)]) for mesh in shot.meshes])
    return np.r_[0.0, np.linalg.norm(np.diff(places, axis=0), axis=-1).mean(axis=-1)]


def moving(shot: Shot, random: Random, margin: int = QUIET_ENDS) -> int:
    """Return the index of a random frame that is not near an end of the shot. From the previous frame to this frame,
    the surface moves by at least 0.7 times the median non-zero step."""
    steps = steps_of(shot)
    usual = float(np.median(steps[steps > 0]))
    fit = [index for index in range(margin, len(steps) - margin) if steps[index] >= 0.7 * usual]
    return int(random.choice(fit))


def anywhere(shot: Shot, random: Random) -> int:
    return int(random.integers(QUIET_ENDS, len(shot.meshes) - QUIET_ENDS))


def with_frames(shot: Shot, changed: Mapping[int, Mesh | bytes]) -> Files:
    new = {
        frame_name(index + 1): mesh if isinstance(mesh, bytes) else mesh.text(shot.take.decimals)
        for index, mesh in changed.items()
    }
    return shot.files | new


def reordered(shot: Shot, order: Iterable[int]) -> Files:
    """Return the frames at these indices in this order, numbered from 1."""
    texts = [shot.files[frame_name(index + 1)] for index in order]
    return shot.take.companions | {frame_name(number): text for number, text in enumerate(texts, 1)}


def in_one_frame(change: Callable[[Shot, Mesh, Random], Mesh | bytes]) -> Callable[[Shot, Random], Mutant]:
    """Return a function that plants a change in one frame that is not near an end of the shot."""

    def plant(shot: Shot, random: Random) -> Mutant:
        index = anywhere(shot, random)
        return Mutant(with_frames(shot, {index: change(shot, shot.meshes[index], random)}), (index + 1,))

    return plant


def in_all_frames(change: Callable[[Shot, Mesh, Random], Mesh]) -> Callable[[Shot, Random], Mutant]:
    def plant(shot: Shot, random: Random) -> Mutant:
        changed = {index: change(shot, mesh, random) for index, mesh in enumerate(shot.meshes)}
        return Mutant(with_frames(shot, changed), tuple(shot.numbers))

    return plant


def moved_by(change: Callable[[Shot, Floats, Random], Floats]) -> Callable[[Shot, Mesh, Random], Mesh]:
    """Return a function that changes only the positions of a mesh."""
    return lambda shot, mesh, random: mesh.edit(positions=change(shot, mesh.positions, random))


def text_changed(change: Callable[[bytes], bytes]) -> Callable[[Shot, Mesh, Random], bytes]:
    """Return a function that changes the text of a frame and checks that the new text is different."""

    def changed(shot: Shot, mesh: Mesh, _: Random) -> bytes:
        old = mesh.text(shot.take.decimals)
        new = change(old)
        assert new != old
        return new

    return changed


def line_of(text: bytes, keyword: bytes, index: int) -> int:
    """Return the line number (from 1) of the `keyword` statement with the given index (from 0)."""
    lines = [number for number, line in enumerate(text.split(b"\n"), 1) if line.startswith(keyword + b" ")]
    return lines[index]


def unit(random: Random) -> Floats:
    way = random.normal(size=3)
    return np.asarray(way / np.linalg.norm(way))


# --- Time and numbers ---


def swap_neighbours(shot: Shot, random: Random) -> Mutant:
    index = moving(shot, random)
    order = list(range(len(shot.meshes)))
    order[index - 1 : index + 1] = [index, index - 1]
    return Mutant(reordered(shot, order), (index, index + 1))


def swap_distant(shot: Shot, random: Random) -> Mutant:
    """Swap frame QUIET_ENDS + 1 with the frame that differs most from it among the frames that are not near an end."""
    low, high = QUIET_ENDS, len(shot.meshes) - QUIET_ENDS - 1
    places = np.stack([np.r_[mesh.positions.mean(0), mesh.positions.std(0)] for mesh in shot.meshes])
    away = np.linalg.norm(places[low:high] - places[low], axis=1)
    first, second = low, low + int(np.argmax(away))
    order = list(range(len(shot.meshes)))
    order[first], order[second] = second, first
    return Mutant(reordered(shot, order), (first + 1, second + 1))


def duplicated(count: int) -> Callable[[Shot, Random], Mutant]:
    """Return a function that replaces `count` frames with copies of the frame before them, so that the surface jumps
    after the copies."""

    def plant(shot: Shot, random: Random) -> Mutant:
        index = moving(shot, random)
        order = [index - 1 if index <= at < index + count else at for at in range(len(shot.meshes))]
        return Mutant(reordered(shot, order), tuple(range(index + 1, index + count + 1)))

    return plant


def dropped(shot: Shot, random: Random) -> Mutant:
    index = moving(shot, random)
    return Mutant(reordered(shot, [at for at in range(len(shot.meshes)) if at != index]), (index + 1,))


def removed(shot: Shot, random: Random) -> Mutant:
    number = anywhere(shot, random) + 1
    return Mutant({name: text for name, text in shot.files.items() if name != frame_name(number)}, (number,))


def half_speed(shot: Shot, random: Random) -> Mutant:
    """Play four frames at half speed, in eight frames. Then the motion goes on at full speed."""
    start = moving(shot, random, margin=9)
    times = [*range(start), *(start + k / 2 for k in range(8)), *range(start + 4, shot.take.frames)]
    files = {frame_name(at + 1): shot.take.at(float(time)).text() for at, time in enumerate(times)}
    return Mutant(shot.take.companions | files, tuple(range(start + 1, start + 9)))


def held_in_part(shot: Shot, random: Random) -> Mutant:
    """In a range of eight frames, hold each shown pose twice as long as elsewhere, and skip the poses in between."""
    hold = 2 if "ones" in shot.body.traits else 4
    start = moving(shot, random, margin=9) // hold * hold
    order = [start + (at - start) // hold * hold if start <= at < start + 8 else at for at in range(shot.take.frames)]
    frozen = [at + 1 for at, shown in enumerate(order) if shown != at]
    return Mutant(reordered(shot, order), tuple(frozen))


def other_take(shot: Shot, random: Random) -> Mutant:
    index = anywhere(shot, random)
    return Mutant(with_frames(shot, {index: shot.other.at(float(index))}), (index + 1,))


def counted_from_zero(shot: Shot, _: Random) -> Mutant:
    files = {frame_name(number - 1): shot.files[frame_name(number)] for number in shot.numbers}
    return Mutant(shot.take.companions | files, settings={"frames": (1, len(shot.meshes))})


def beyond_the_range(shot: Shot, _: Random) -> Mutant:
    last = len(shot.meshes) - 3
    return Mutant(shot.files, (last + 1, last + 2, last + 3), {"frames": (1, last)})


def off_the_cycle(shot: Shot, random: Random) -> Mutant:
    """In a frame of the last cycle, show the pose of the frame two frames later."""
    index = len(shot.meshes) - int(random.integers(4, 9))
    return Mutant(with_frames(shot, {index: shot.take.at(index + 2.0)}), (index + 1,))


# --- One thing off ---


def one_vertex(size: float, first: bool = False) -> Callable[[Shot, Random], Mutant]:
    """Return a function that moves one vertex by `size` times the diagonal. If `first` is true, it does so in the first
    frame; otherwise, it does so in a frame that is not near an end of the shot."""

    def plant(shot: Shot, random: Random) -> Mutant:
        index = 0 if first else anywhere(shot, random)
        positions = shot.meshes[index].positions.copy()
        vertex = int(random.integers(len(positions)))
        positions[vertex] += size * shot.diagonal * unit(random)
        text = shot.meshes[index].edit(positions=positions).text(shot.take.decimals)
        return Mutant(with_frames(shot, {index: text}), (index + 1,), line=line_of(text, b"v", vertex))

    return plant


def five_vertices(shot: Shot, positions: Floats, random: Random) -> Floats:
    moved = positions.copy()
    for vertex in random.choice(len(positions), 5, replace=False):
        moved[vertex] += 0.10 * shot.diagonal * unit(random)
    return moved


def patch(shot: Shot, positions: Floats, random: Random) -> Floats:
    """Plant a dent: displace the 5 % of the vertices that are nearest to a random vertex. The displacement decreases to
    0 at the rim of the dent."""
    away = np.linalg.norm(positions - positions[random.integers(len(positions))], axis=1)
    rim = float(np.sort(away)[min(len(away) - 1, max(1, len(away) // 20))])
    return positions + np.outer(np.clip(1 - away / rim, 0, 1), 0.10 * shot.diagonal * unit(random))


def third(shot: Shot, positions: Floats, random: Random) -> Floats:
    """Displace one third of the vertices, those nearest to a random vertex, all by the same vector."""
    away = np.linalg.norm(positions - positions[random.integers(len(positions))], axis=1)
    moved = positions.copy()
    moved[away <= np.quantile(away, 1 / 3)] += 0.3 * shot.diagonal * unit(random)
    return moved


def noisy(size: float) -> Callable[[Shot, Floats, Random], Floats]:
    def noise(shot: Shot, positions: Floats, random: Random) -> Floats:
        return positions + random.normal(0, size * shot.diagonal / np.sqrt(3), positions.shape)

    return noise


def scaled(factor: float) -> Callable[[Shot, Floats, Random], Floats]:
    """Return a function that scales positions about the origin, as a change of units does."""
    return lambda _, positions, __: positions * factor


def scaled_in_place(shot: Shot, positions: Floats, random: Random) -> Floats:
    middle = positions.mean(axis=0)
    return np.asarray(middle + 1.1 * (positions - middle))


def moved(size: float) -> Callable[[Shot, Floats, Random], Floats]:
    return lambda shot, positions, random: positions + size * shot.diagonal * unit(random)


def moved_and_scaled(shot: Shot, positions: Floats, random: Random) -> Floats:
    middle = positions.mean(axis=0)
    return np.asarray(middle + 2.0 * (positions - middle) + 1.2 * shot.diagonal * unit(random))


def moved_at_the_end(shot: Shot, random: Random) -> Mutant:
    index = len(shot.meshes) - 1
    mesh = shot.meshes[index]
    changed = mesh.edit(positions=moved(0.3)(shot, mesh.positions, random))
    return Mutant(with_frames(shot, {index: changed}), (index + 1,))


MIRROR = np.diag([-1.0, 1.0, 1.0])
QUARTER_TURN = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])


def mapped_by(matrix: Floats, in_place: bool = False) -> Callable[[Shot, Mesh, Random], Mesh]:
    """Return a function that maps positions and normals by an orthogonal matrix (3, 3).

    With `in_place`, the middle of the bounding box stays in place; otherwise, the origin does.
    """

    def change(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
        box = mesh.positions.min(axis=0), mesh.positions.max(axis=0)
        about = (box[0] + box[1]) / 2 if in_place else np.zeros(3)
        return mesh.edit(positions=(mesh.positions - about) @ matrix.T + about, normals=mesh.normals @ matrix.T)

    return change


def stated_too_small(factor: float) -> Callable[[Shot, Random], Mutant]:
    """Return a function that scales all frames by `factor`. The size that the user states is the longest side before
    scaling."""

    def plant(shot: Shot, _: Random) -> Mutant:
        longest = float(np.ptp(shot.meshes[0].positions, axis=0).max())
        changed = {index: mesh.edit(positions=factor * mesh.positions) for index, mesh in enumerate(shot.meshes)}
        return Mutant(with_frames(shot, changed), tuple(shot.numbers), {"size": longest})

    return plant


def rounded(shot: Shot, mesh: Mesh, random: Random) -> bytes:
    return mesh.text(3)


# --- Topology ---


def other_order(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    order = random.permutation(len(mesh.positions))
    number = np.argsort(order)
    renumbered = with_faces(mesh, lambda corner: (int(number[corner[0]]), corner[1], corner[2]))
    return faces_in_another_order(shot, renumbered.edit(positions=mesh.positions[order]), random)


def permuted(shot: Shot, positions: Floats, random: Random) -> Floats:
    return np.asarray(positions[random.permutation(len(positions))])


def two_swapped(shot: Shot, positions: Floats, random: Random) -> Floats:
    """Swap two vertices that are at least a third of the diagonal apart."""
    while True:
        pair = random.choice(len(positions), 2, replace=False)
        if np.linalg.norm(np.subtract(*positions[pair])) >= shot.diagonal / 3:
            break
    swapped = positions.copy()
    swapped[pair] = positions[pair[::-1]]
    return swapped


def last_third_first(shot: Shot, positions: Floats, random: Random) -> Floats:
    return np.roll(positions, len(positions) // 3, axis=0)


def faces_in_another_order(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    """Reorder the faces within each run of faces with the same material."""
    bounds = [0, *(face for face, _ in mesh.marks), len(mesh.faces)]
    order = [
        int(bounds[k] + at) for k in range(len(bounds) - 1) for at in random.permutation(bounds[k + 1] - bounds[k])
    ]
    return mesh.edit(faces=tuple(mesh.faces[at] for at in order))


def flipped(share: float) -> Callable[[Shot, Mesh, Random], Mesh]:
    """Return a function that reverses the winding of a fraction of the faces, but of at least one face."""

    def flip(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
        count = max(1, round(share * len(mesh.faces)))
        chosen = set(random.choice(len(mesh.faces), count, replace=False).tolist())
        return mesh.edit(faces=tuple(face[::-1] if at in chosen else face for at, face in enumerate(mesh.faces)))

    return flip


def recut(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    """Cut one in twenty pairs of triangles along the other diagonal."""
    pairs = [
        at
        for at in range(len(mesh.faces) - 1)
        if mesh.faces[at][0] == mesh.faces[at + 1][0] and mesh.faces[at][2] == mesh.faces[at + 1][1]
    ]
    faces = list(mesh.faces)
    for at in random.choice(pairs, max(1, len(pairs) // 20), replace=False):
        (a, b, c), d = faces[at], faces[at + 1][2]
        faces[at], faces[at + 1] = (a, b, d), (b, c, d)
    return mesh.edit(faces=tuple(faces))


def wrong_corner(vertex_of: Callable[[Mesh, Random, Corner], int]) -> Callable[[Shot, Random], Mutant]:
    """Return a function that makes one corner of one face refer to a different vertex."""

    def plant(shot: Shot, random: Random) -> Mutant:
        index = anywhere(shot, random)
        mesh = shot.meshes[index]
        face = int(random.integers(len(mesh.faces)))
        faces = list(mesh.faces)
        (_, *other), *rest = faces[face]
        faces[face] = ((vertex_of(mesh, random, faces[face][0]), other[0], other[1]), *rest)
        text = mesh.edit(faces=tuple(faces)).text(shot.take.decimals)
        return Mutant(with_frames(shot, {index: text}), (index + 1,), line=line_of(text, b"f", face))

    return plant


def another_vertex(mesh: Mesh, random: Random, corner: Corner) -> int:
    """Choose a vertex that no face at the corner's vertex uses, so that the changed face has an area above 0."""
    near = {v for face in mesh.faces for v, _, _ in face if corner[0] in [w for w, _, _ in face]}
    return int(random.choice(sorted(set(range(len(mesh.positions))) - near)))


def fewer_faces(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    lost = set(random.choice(len(mesh.faces), max(1, len(mesh.faces) // 20), replace=False).tolist())
    kept = [at for at in range(len(mesh.faces)) if at not in lost]
    marks = tuple((int(np.searchsorted(kept, face)), line) for face, line in mesh.marks)
    return mesh.edit(faces=tuple(mesh.faces[at] for at in kept), marks=marks)


# --- Files ---


def cut(share: float) -> Callable[[bytes], bytes]:
    """Return a function that cuts a text to a fraction of its length, possibly in the middle of a line."""
    return lambda text: text[: int(share * len(text))].rstrip(b"\n")


def cut_at_a_line(text: bytes) -> bytes:
    return text[: text.rindex(b"\n", 0, int(0.7 * len(text))) + 1]


def not_a_number(shot: Shot, random: Random) -> Mutant:
    index, vertex = anywhere(shot, random), int(random.integers(len(shot.meshes[0].positions) // 2))
    lines = shot.files[frame_name(index + 1)].split(b"\n")
    line = line_of(b"\n".join(lines), b"v", vertex)
    lines[line - 1] = b"v nan nan nan"
    return Mutant(with_frames(shot, {index: b"\n".join(lines)}), (index + 1,), line=line)


# --- UVs, normals, materials ---


def uv_indices_shifted(by: int) -> Callable[[Shot, Mesh, Random], Mesh]:
    def shift(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
        count = len(mesh.uvs)
        return with_faces(mesh, lambda corner: (corner[0], (corner[1] + by) % count, corner[2]))

    return shift


def uvs_moved(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    return mesh.edit(uvs=mesh.uvs + 0.01)


def uvs_lost(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    lost = with_faces(mesh, lambda corner: (corner[0], ABSENT, corner[2]))
    return lost.edit(uvs=np.empty((0, 2)))


def one_square_up(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    return mesh.edit(uvs=mesh.uvs + np.array([0.0, 1.0]))


def normals_lost(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    lost = with_faces(mesh, lambda corner: (corner[0], corner[1], ABSENT))
    return lost.edit(normals=np.empty((0, 3)))


def normals_reversed(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    return mesh.edit(normals=-mesh.normals)


def library_of_one_frame(name: bytes) -> Callable[[Shot, Mesh, Random], bytes]:
    return text_changed(lambda text: text.replace(b"mtllib manta.mtl", b"mtllib " + name))


def without(suffix: str) -> Callable[[Shot, Random], Mutant]:
    def plant(shot: Shot, _: Random) -> Mutant:
        files = {name: text for name, text in shot.files.items() if not name.endswith(suffix)}
        assert files.keys() < shot.files.keys()
        return Mutant(files, tuple(shot.numbers))

    return plant


def renamed_material(lasts: bool) -> Callable[[Shot, Random], Mutant]:
    """Return a function that replaces the material `skin` with `skin_1`, a copy of it. It does so in one frame or, if
    `lasts` is true, from one frame to the end."""

    def plant(shot: Shot, random: Random) -> Mutant:
        index = anywhere(shot, random)
        changed = range(index, len(shot.meshes) if lasts else index + 1)
        new = {at: shot.files[frame_name(at + 1)].replace(b"usemtl skin", b"usemtl skin_1") for at in changed}
        library = shot.files["manta.mtl"]
        block = library[library.index(b"newmtl skin") :].split(b"newmtl ")[1]
        files = with_frames(shot, new) | {"manta.mtl": library + b"newmtl " + block.replace(b"skin\n", b"skin_1\n", 1)}
        return Mutant(files, tuple(at + 1 for at in changed))

    return plant


def faces_of_another_material(shot: Shot, mesh: Mesh, random: Random) -> Mesh:
    """Move the border between two materials so that up to a tenth of the faces change their material."""
    at = next(index for index, (face, line) in enumerate(mesh.marks) if face and line.startswith("usemtl"))
    marks = list(mesh.marks)
    last = marks[at + 1][0] if at + 1 < len(marks) else len(mesh.faces)
    first, line = marks[at]
    marks[at] = (min(first + max(1, len(mesh.faces) // 10), last - 1), line)
    return mesh.edit(marks=tuple(sorted(marks, key=lambda mark: mark[0])))


_ORDER, _UVS, _MATERIALS = frozenset({"order"}), frozenset({"order", "uvs"}), frozenset({"materials"})
_NORMALS, _MANY = frozenset({"normals"}), frozenset({"many"})

MUTATIONS: tuple[Mutation, ...] = (
    Mutation("neighbours swapped", ("frames in another order",), swap_neighbours),
    Mutation("distant frames swapped", ("frame of another take",), swap_distant),
    Mutation("a frame repeated", ("frozen",), duplicated(1)),
    Mutation("a frame repeated twice", ("frozen",), duplicated(2)),
    Mutation("a frame dropped, renumbered", ("dropped",), dropped, margin=1),
    Mutation("a file missing", ("missing frame",), removed, level="error"),
    Mutation("eight frames at half speed", ("another pace",), half_speed, share=0.4, margin=2),
    Mutation("eight frames held in pairs", ("frozen",), held_in_part, share=0.5, margin=1),
    Mutation("a frame of another take", ("frame of another take",), other_take),
    Mutation("counted from zero", ("numbers shifted",), counted_from_zero, level="error"),
    Mutation("three frames beyond the range", ("outside the stated range",), beyond_the_range),
    Mutation("off the cycle by two frames", ("off the cycle",), off_the_cycle, frozenset({"cycle"})),
    Mutation("one vertex off by 5 %", ("vertices off",), one_vertex(0.05)),
    Mutation("one vertex off by 5 %, first frame", ("vertices off",), one_vertex(0.05, first=True)),
    Mutation("one vertex off by 2 %", ("vertices off",), one_vertex(0.02)),
    Mutation("five vertices off by 10 %", ("part off",), in_one_frame(moved_by(five_vertices))),
    Mutation("a dent of 10 %", ("part off",), in_one_frame(moved_by(patch))),
    Mutation("a third moved by 30 %", ("part off",), in_one_frame(moved_by(third)), _ORDER | _MANY),
    Mutation("noise of 0.2 %, one frame", ("noise",), in_one_frame(moved_by(noisy(0.002)))),
    Mutation("noise of 1 %, one frame", ("noise",), in_one_frame(moved_by(noisy(0.01)))),
    Mutation("noise of 0.1 %, all frames", ("noise",), in_all_frames(moved_by(noisy(0.001))), share=0.8),
    Mutation("scaled by 1.1", ("scaled",), in_one_frame(moved_by(scaled_in_place))),
    Mutation("scaled by 2.54", ("scaled",), in_one_frame(moved_by(scaled(2.54)))),
    Mutation("scaled by 0.01", ("scaled",), in_one_frame(moved_by(scaled(0.01)))),
    Mutation("moved by 5 %", ("slightly moved",), in_one_frame(moved_by(moved(0.05)))),
    Mutation("moved by 30 %", ("moved",), in_one_frame(moved_by(moved(0.3)))),
    Mutation("moved by 30 %, last frame", ("moved",), moved_at_the_end),
    Mutation("moved by 120 % and doubled", ("moved", "scaled"), in_one_frame(moved_by(moved_and_scaled))),
    Mutation("mirrored", ("mirrored",), in_one_frame(mapped_by(MIRROR))),
    Mutation("mirrored in place", ("mirrored",), in_one_frame(mapped_by(MIRROR, in_place=True))),
    Mutation("a quarter turn", ("turned",), in_one_frame(mapped_by(QUARTER_TURN))),
    Mutation("100 times the stated size", ("other units",), stated_too_small(100.0), level="error"),
    Mutation("2.54 times the stated size", ("other units",), stated_too_small(2.54), level="error"),
    Mutation("three decimals, one frame", ("rounded",), in_one_frame(rounded), _MANY),
    Mutation("vertices and faces reordered", ("vertex order",), in_one_frame(other_order), _ORDER),
    Mutation("positions permuted", ("vertex order",), in_one_frame(moved_by(permuted)), _ORDER | _MANY, level="error"),
    Mutation("two positions swapped", ("vertex order",), in_one_frame(moved_by(two_swapped)), _ORDER, level="error"),
    Mutation(
        "last third of the positions first",
        ("vertex order",),
        in_one_frame(moved_by(last_third_first)),
        _ORDER | _MANY,
        level="error",
    ),
    Mutation("faces reordered", ("face order",), in_one_frame(faces_in_another_order), _ORDER),
    Mutation("one face flipped", ("turned faces",), in_one_frame(flipped(0.0)), level="error"),
    Mutation("5 % of the faces flipped", ("turned faces",), in_one_frame(flipped(0.05)), level="error"),
    Mutation("all faces flipped", ("turned faces",), in_one_frame(flipped(1.0)), level="error"),
    Mutation("re-triangulated, 5 %", ("other faces",), in_one_frame(recut), _ORDER | {"triangles"}),
    Mutation("a wrong index", ("wrong index",), wrong_corner(another_vertex), level="error"),
    Mutation(
        "an index out of range", ("index range",), wrong_corner(lambda mesh, *_: len(mesh.positions) + 9), level="error"
    ),
    Mutation("5 % of the faces lost", ("faces lost",), in_one_frame(fewer_faces), _ORDER),
    Mutation("cut at 70 %", ("unreadable",), in_one_frame(text_changed(cut(0.7))), level="error"),
    Mutation(
        "cut at 70 %, end of a line", ("cut at a line",), in_one_frame(text_changed(cut_at_a_line)), level="error"
    ),
    Mutation("cut at 30 %", ("unreadable",), in_one_frame(text_changed(cut(0.3))), level="error"),
    Mutation("an empty file", ("unreadable",), in_one_frame(text_changed(cut(0.0))), level="error"),
    Mutation("not a number", ("bad number",), not_a_number, level="error"),
    Mutation(
        "UV indices shifted by one", ("other UV indices",), in_one_frame(uv_indices_shifted(1)), _UVS, level="error"
    ),
    Mutation("UVs moved by 0.01", ("other UVs",), in_one_frame(uvs_moved), _UVS),
    Mutation("UVs lost, one frame", ("UVs missing",), in_one_frame(uvs_lost), _UVS, level="error"),
    Mutation("UVs one square up", ("layout outside the square",), in_all_frames(one_square_up), _UVS),
    Mutation("normals lost, one frame", ("normals missing",), in_one_frame(normals_lost), _NORMALS),
    Mutation("normals reversed, one frame", ("normals reversed",), in_one_frame(normals_reversed), _NORMALS),
    Mutation(
        "library missing, one frame",
        ("library missing",),
        in_one_frame(library_of_one_frame(b"kelp.mtl")),
        _MATERIALS,
        level="error",
    ),
    Mutation("library missing, all frames", ("library missing",), without(".mtl"), _MATERIALS, level="error"),
    Mutation(
        "library in capitals, one frame",
        ("library missing",),
        in_one_frame(library_of_one_frame(b"MANTA.MTL")),
        _MATERIALS,
        level="error",
    ),
    Mutation("textures missing", ("texture missing",), without(".png"), _MATERIALS, level="error"),
    Mutation(
        "no usemtl, one frame",
        ("no material",),
        in_one_frame(text_changed(lambda text: text.replace(b"usemtl ", b"# "))),
        _MATERIALS,
    ),
    Mutation("other material name, one frame", ("other material",), renamed_material(lasts=False), _MATERIALS),
    Mutation("other material name from one frame on", ("other material",), renamed_material(lasts=True), _MATERIALS),
    Mutation("faces of another material", ("other material",), in_one_frame(faces_of_another_material), _MATERIALS),
    Mutation("scaled by 100", ("scaled",), in_one_frame(moved_by(scaled(100.0)))),
    Mutation(
        "UV indices shifted by four", ("other UV indices",), in_one_frame(uv_indices_shifted(4)), _UVS, level="error"
    ),
)
