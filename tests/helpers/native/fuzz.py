"""Compare each function of the native core with plain Python on random cases, with buffers of exactly the needed size.

Run by hand: `python -m tests.helpers.native.fuzz [--cases 100000] [--seed N]`. To run it with the sanitizers, use
tests/native/sanitize.py.
"""

from __future__ import annotations

import argparse
import random
import re
import time
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from inspector import _native
from tests.helpers.native.cases import face_block, mesh, number_block

_NUMBER = rb"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_CORNER = re.compile(rb"(-?[0-9]{1,9})(?:/(-?[0-9]{1,9})?(?:/(-?[0-9]{1,9}))?)?")
_ODD_NUMBER = re.compile(rb"(?<=[ \t/])(?:\+[0-9.]|-?\.[0-9]|-?[0-9]+\.(?=[ \t\r\neE])|-?0[0-9])")
_BYTES = b" \t\n\r0123456789+-.eE/#fvnt\0\xff"
_THRESHOLDS = (1e-6, 0.4, 0.05, -0.5)


def run_case(rng: random.Random) -> int:
    """Compare each function of the core with plain Python on one random case. Return how many lines the core read."""
    keyword, text = number_block(rng)
    read = check_numbers(keyword, text)
    faces = face_block(rng)
    read += check_faces(faces)
    check_blocks(rng, keyword, text)
    check_blocks(rng, b"f", faces)
    check_mesh(rng)
    check_forms(rng, rng.choice((text, faces)))
    check_forms(rng, b"".join(b"v %.*f %.6f 1.000000\n" % (rng.choice((6, 6, 6, 5)), 0.5, 1.5) for _ in range(4)))
    return read


def run_cases(cases: int, seed: int) -> int:
    """Run cases, and return how many lines the core read. If a case fails, print its number."""
    read = 0
    for case in range(cases):
        try:
            read += run_case(random.Random(f"{seed} {case}"))
        except BaseException:
            print(f"case {case} of seed {seed}")
            raise
    return read


def run_mutations(cases: int, seed: int) -> int:
    """Run the readers on buffers in which a few random bytes were changed. The sanitizers detect invalid memory
    accesses."""
    rng = random.Random(seed)
    values, doubts, powers = np.empty((64, 3)), np.empty((64, 3), np.int64), _native.powers()
    slots, ends = np.empty((3, 128), np.int32), np.empty(64, np.int64)
    core = _native.core
    for case in range(cases):
        if case % 200 == 0:
            keyword, text = number_block(rng)
            goods = [text, face_block(rng)]
        data = np.frombuffer(goods[case % 2] or b"\n", np.uint8).copy()
        for _ in range(3):
            data[rng.randrange(len(data))] = _BYTES[rng.randrange(len(_BYTES))]
        text, start = memoryview(data), rng.randrange(len(data) + 1)
        if case % 2:
            core.read_faces(text, start, b"f", 255, slots[0], slots[1], slots[2], ends)
        else:
            core.read_numbers(text, start, keyword, 3, powers, values, doubts)
        core.find_run(text, start, keyword)
    return cases


def check_numbers(keyword: bytes, text: bytes) -> int:
    """Compare the numbers that the core reads with those that `float` gives, and return how many lines the core read.

    The core may stop only at a line that isn't regular, that has an exponent, or that has a number above 1e250.
    """
    columns = max(1, len(text.partition(b"\n")[0].split()) - 1)
    lines = text.count(b"\n") + 1
    run = _native.read_numbers(_exact(text), 0, keyword, columns, lines)
    done = _lines(text[: run.stop])
    assert len(done) == len(run.values)
    expected = np.array([[float(token) for token in line.split()[1:]] for line in done]).reshape(-1, columns)
    assert run.values.tobytes() == expected.tobytes()
    if run.stop < len(text):
        line = _lines(text[run.stop :])[0].strip(b" \t\r\n")
        regular = re.fullmatch(keyword + rb"(?:[ \t\r]+%b){%d}" % (_NUMBER, columns), line)
        assert not regular or max(abs(float(token)) for token in line.split()[1:]) > 1e250 or b"e" in line.lower()
    return len(done)


def check_faces(text: bytes) -> int:
    """Compare the indices that the core reads with the results of `int`, and return how many lines the core read.

    The core may stop only at a line that isn't regular.
    """
    lines, corners = text.count(b"\n") + 1, _blanks(text)
    run = _native.read_faces(_exact(text), 0, b"f", 255, (lines, corners))
    done = [line.split()[1:] for line in _lines(text[: run.stop])]
    assert np.diff(run.offsets).tolist() == [len(tokens) for tokens in done]
    matches = [_CORNER.fullmatch(token) for tokens in done for token in tokens]
    for group, slot in enumerate((run.v, run.vt, run.vn), 1):
        given = [match and match[group] for match in matches]
        if slot is None:
            assert not any(given)
        else:
            assert slot.tolist() == [int(index) for index in given if index is not None]
    if run.stop < len(text):
        line = _lines(text[run.stop :])[0].strip(b" \t\r\n")
        tokens = line.split()[1:] if re.match(rb"f[ \t\r]", line) else []
        forms = {tuple(part is not None for part in match.groups()) for token in tokens if (match := _full(token))}
        form = (True, run.vt is not None, run.vn is not None)
        regular = all(map(_full, tokens)) and 3 <= len(tokens) <= 255 and forms == {form}
        assert not regular
    return len(done)


def _full(token: bytes) -> re.Match[bytes] | None:
    match = _CORNER.fullmatch(token)
    return None if match is None or token.endswith(b"/") else match


def check_forms(rng: random.Random, text: bytes) -> None:
    text = text[: rng.randrange(len(text) + 1)] if rng.random() < 0.5 else text
    assert _native.core.has_odd_number(_exact(text)) == bool(_ODD_NUMBER.search(text))
    rows = [line.split()[1:4] for line in text.split(b"\n")[:-1]]
    decimals = [len(number.partition(b".")[2]) for row in rows for number in row]
    assert _native.core.count_decimals(_exact(text), 3) == (
        len(decimals),
        decimals[0] if len(set(decimals)) == 1 else -1,
    )


def check_blocks(rng: random.Random, keyword: bytes, text: bytes) -> None:
    start = rng.randrange(len(text) + 1)
    start = text.rfind(b"\n", 0, start) + 1
    stop, lines = _native.core.find_run(_exact(text), start, keyword)
    rest = text[start:].split(b"\n")
    same = 1
    while (
        same < len(rest)
        and re.match(rb"[ \t]*%b(?=[ \t\r]|$)" % keyword, rest[same])
        and (rest[same] or rest[same + 1 :])
    ):
        same += 1
    assert lines == same
    assert text[start:stop] == b"".join(line + b"\n" for line in rest[:same])[: len(text) - start]
    assert _native.core.count_bytes(_exact(text), start) == (
        text.count(b"\n", start),
        _blanks(text[start:]),
    )
    assert _native.core.find_special(_exact(text)) == (
        (b"\0" in text) | (b"\r" in text) << 1 | (b"\\" in text) << 2 | (not text.isascii()) << 3
    )
    other = bytearray(text)
    if other and rng.random() < 0.5:
        other[rng.randrange(len(other))] ^= 1
    assert _native.core.is_same(_exact(text), _exact(bytes(other))) == (text == other)


def check_mesh(rng: random.Random) -> None:
    """Compare the core's measurements of a random mesh with those of plain Python. Invalid indices must do no harm."""
    one = mesh(rng)
    positions = np.array(one.positions)
    flags = np.zeros(len(one.offsets) - 1, np.uint8)
    v, offsets = one.v.copy(), one.offsets.copy()
    wild = rng.random() < 0.3
    if wild and len(v):
        v[rng.randrange(len(v))] = rng.choice((-(2**31), 2**31 - 1, len(positions)))
        offsets[rng.randrange(len(offsets))] = rng.choice((-(2**63), 2**63 - 1, -1, len(v) + 1))
    measured, sides, area, _, counts = _native.core.measure_faces(
        positions, one.normals, offsets, v, one.vn, True, _THRESHOLDS, flags
    )
    assert [int(np.count_nonzero(flags & bit)) for bit in (1, 2, 4, 8)] == list(counts)
    assert not sides < 0.0
    assert not area < 0.0
    if not wild:
        sizes = np.diff(offsets)
        whole = np.array([(v[offsets[face] : offsets[face + 1]] >= 0).all() for face in range(len(sizes))], bool)
        assert measured == np.count_nonzero(whole & (sizes >= 3))
    before = one.normals
    with np.errstate(all="ignore"):
        _check_points(positions, before)
    _check_connections(offsets, np.where(v > 10**6, -1, v).astype(np.int32), len(positions))
    _check_layers(rng, positions)
    _check_faces(offsets, np.where(v > 10**6, -1, v).astype(np.int32), len(positions))
    _check_layout(rng, offsets, v, positions)


def _check_faces(offsets: npt.NDArray[np.int64], v: npt.NDArray[np.int32], vertices: int) -> None:
    """Compare the components, edges and duplicate faces that the core finds with those that plain Python finds. Wrong
    offsets and indices must be refused or do no harm."""
    core = _native.core
    spans = [(a, b) if 0 <= a <= b <= len(v) else (0, 0) for a, b in pairwise(offsets.tolist())]
    rings = [v[first:last].tolist() for first, last in spans]
    flags = np.empty(len(rings), np.uint8)
    kinds: dict[tuple[int, ...], int] = {}
    for ring in rings:
        kinds[tuple(sorted(ring))] = kinds.get(tuple(sorted(ring)), 0) + 1
    assert core.find_alike(offsets, v, flags) == np.count_nonzero(flags)
    alike = [len(ring) >= 3 and min(ring) >= 0 and kinds[tuple(sorted(ring))] > 1 for ring in rings]
    assert all(flag for flag, same in zip(flags.tolist(), alike, strict=True) if same)
    assert 0 <= core.hash_faces(offsets, v) < 2**64
    if v.max(initial=-1) >= vertices or sum(map(len, rings)) > len(v):
        _must_raise(IndexError, core.connect_faces, offsets, v, vertices)
    else:
        edges: dict[tuple[int, ...], list[int]] = {}
        for face, ring in enumerate(rings):
            for start, end in zip(ring, [*ring[1:], *ring[:1]], strict=True):
                if min(start, end) >= 0:
                    edges.setdefault(tuple(sorted((start, end))), []).append(face if start <= end else ~face)
        pieces, boundary, non_manifold, opposed, unused = core.connect_faces(offsets, v, vertices)
        uses = [len(sides) for sides in edges.values()]
        assert (boundary, non_manifold) == (uses.count(1), sum(use > 2 for use in uses))
        assert opposed == sum(len(sides) == 2 and (sides[0] < 0) == (sides[1] < 0) for sides in edges.values())
        assert unused == vertices - len(set(v.tolist()) - {index for index in v.tolist() if index < 0})
        label = list(range(len(rings)))
        for sides in edges.values():
            joined = {label[side if side >= 0 else ~side] for side in sides}
            label = [min(joined) if one in joined else one for one in label]
        assert pieces == len(set(label))
    if v.max(initial=-1) < vertices:
        found = core.find_repeated(offsets, v, vertices, flags)
        given = [[index for index in ring if index >= 0] for ring in rings]
        assert flags.tolist() == [len(set(ring)) < len(ring) for ring in given]
        assert found == sum(flags.tolist())
    else:
        _must_raise(IndexError, core.find_repeated, offsets, v, vertices, flags)
    for function in (core.hash_faces, core.connect_faces):
        _must_raise(
            ValueError, function, np.empty(0, np.int64), v, *((vertices,) if function is core.connect_faces else ())
        )
    _must_raise(ValueError, core.find_alike, offsets, v, np.empty(len(rings) + 1, np.uint8))


def _check_layout(
    rng: random.Random,
    offsets: npt.NDArray[np.int64],
    vt: npt.NDArray[np.int32],
    positions: npt.NDArray[np.float64],
) -> None:
    """Compare the bounding box and the flags of faces in UV space with those that NumPy gives.

    In each row of the grid, the steps that `add_layers` adds must sum to 0.
    """
    core, width = _native.core, rng.choice((2, 3))
    uvs = np.ascontiguousarray(positions[:, :width])
    flags = np.empty(len(offsets) - 1, np.uint8)
    *box, area, mirrored = core.measure_layout(uvs, width, offsets, vt, 1e-6, 0.01, flags)
    laid = [
        uvs[vt[a:b], :2]
        for a, b in pairwise(offsets.tolist())
        if 3 <= b - a <= len(vt) and 0 <= a <= b <= len(vt) and 0 <= vt[a:b].min() <= vt[a:b].max() < len(uvs)
    ]
    laid = [ring for ring in laid if np.isfinite(ring).all()]
    assert np.count_nonzero(flags & 4) == len(laid)
    assert [bool(flag & 2) for flag in flags.tolist() if flag] == [
        bool((ring < -0.01).any() or (ring > 1.01).any()) for ring in laid
    ]
    if laid:
        every = np.concatenate(laid)
        assert box == [*every.min(axis=0), *every.max(axis=0)]
        assert not mirrored > area
    cells, count = rng.choice((1, 5, 40)), rng.choice((1, 3))
    material = np.array([rng.choice((-1, 0, 0, 1, 2**40)) for _ in flags], np.int64)
    steps = np.zeros(count * cells * (cells + 1))
    low, high = box[1], box[3]
    inside = bool(laid) and rng.random() < 0.7 and 0.0 < high - low < 1e100
    scale = cells / (high - low) if inside else rng.choice((1.0, 3.0, 1e300, -1.0, float("nan")))
    core.add_layers(uvs, width, offsets, vt, material, box[0], low, scale, scale, cells, steps)
    if inside:
        assert not steps.reshape(-1, cells + 1).sum(axis=1).any()
    for wrong in ((uvs, 4, offsets, vt, material), (uvs, width, offsets, vt, material[1:])):
        if len(flags):
            _must_raise(ValueError, core.add_layers, *wrong, 0.0, 0.0, 1.0, 1.0, cells, steps)
    _must_raise(ValueError, core.add_layers, uvs, width, offsets, vt, material, 0.0, 0.0, 1.0, 1.0, 2**21, steps)


def _must_raise(error: type[Exception], function: Callable[..., object], *arguments: object) -> None:
    try:
        function(*arguments)
    except error:
        return
    raise AssertionError(f"{error.__name__} was not raised")


def _check_connections(offsets: npt.NDArray[np.int64], v: npt.NDArray[np.int32], vertices: int) -> None:
    """Check that the core and plain Python sort the sides of faces in the same order.

    Linked faces must be in the same component. Neighbours must be indices of existing vertices.
    """
    spans = [(a, b) if 0 <= a <= b <= len(v) else (0, 0) for a, b in pairwise(offsets)]
    side, face, edge, uses = (np.empty(len(v), np.int32) for _ in range(4))
    sides, edges = _native.core.sort_sides(offsets, v, side, face, edge, uses)
    if all(first[1] <= second[0] for first, second in pairwise(spans)):  # no corner belongs to two faces
        of_edge: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for which, (first, last) in enumerate(spans):
            for at in range(first, last):
                ends = sorted((int(v[at]), int(v[at + 1 if at + 1 < last else first])))
                if ends[0] >= 0:
                    of_edge.setdefault((ends[0], ends[1]), []).append((at, which))
        expected = [found for _, found in sorted(of_edge.items())]
        assert list(zip(side[:sides], face[:sides], strict=True)) == [one for found in expected for one in found]
        assert uses[:edges].tolist() == list(map(len, expected))
        assert edge[:sides].tolist() == [number for number, found in enumerate(expected) for _ in found]
    links = np.stack([face[: max(0, sides - 1)], face[1 : max(1, sides)]], axis=-1)[np.diff(edge[:sides]) == 0]
    component = np.empty(len(spans), np.int32)
    number = _native.core.find_components(np.ascontiguousarray(links), component)
    assert sorted(set(component.tolist())) == list(range(number))
    assert (component[links[:, 0]] == component[links[:, 1]]).all()
    assert number >= len(spans) - len(links)
    beside = np.empty((vertices, 4), np.int32)
    _native.core.find_neighbours(offsets, v, beside)
    assert ((beside >= 0) & (beside < vertices)).all()
    _must_raise(IndexError, _native.core.find_components, np.array([[0, len(spans)]], np.int32), component)


def _check_layers(rng: random.Random, positions: npt.NDArray[np.float64]) -> None:
    """Check that the steps added by `add_steps` sum to 0 in each row of the grid."""
    size = rng.choice((1, 2, 3, 4, 7))
    cells = rng.choice((0, 1, 5, 40))
    u, v = (np.ascontiguousarray(axis[: len(axis) // size * size]) for axis in positions[:, :2].T)
    steps = np.zeros(cells * (cells + 1))
    low, high = float(v.min(initial=0.0)), float(v.max(initial=1.0))
    inside = rng.random() < 0.7 and bool(np.isfinite(positions).all()) and high - low < 1e100
    scale = cells / (high - low) if inside else rng.choice((1.0, 3.0, 1e300, -1.0, float("nan")))
    _native.core.add_steps(u, v, size, float(u.min(initial=0.0)), low, scale, scale, cells, steps)
    if inside:
        assert not steps.reshape(cells, cells + 1).sum(axis=1).any()


def _check_points(positions: npt.NDArray[np.float64], before: npt.NDArray[np.float64]) -> None:
    box = _native.core.measure_box(positions)
    if np.isfinite(positions).all():
        assert box == (*positions.min(axis=0), *positions.max(axis=0))
        x, y, z = (positions - before).T
        squares = x * x + y * y + z * z
        total, vertex, alike = _native.core.measure_motion(positions, before)
        assert np.isclose(total, np.sqrt(squares).sum(), rtol=1e-13, atol=0.0)
        assert (vertex, alike) == (squares.argmax(), np.count_nonzero(squares >= squares.max() / 4.0))
        _check_tear(positions, before)
    else:
        assert box is None
    x, y, z = positions.T
    squares = x * x + y * y + z * z
    assert _native.core.count_lengths(positions, 0.9, 1.1) == np.count_nonzero((squares < 0.9) | (squares > 1.1))


def _check_tear(positions: npt.NDArray[np.float64], before: npt.NDArray[np.float64]) -> None:
    count = len(positions)
    beside = ((np.arange(4 * count) * 7919) % max(1, count)).astype(np.int32)
    vertex, *way, square, alike = _native.core.measure_tear(positions, before, beside, 0.5)
    one, two, three, four = ((positions - before)[others] for others in beside.reshape(-1, 4).T)
    x, y, z = (positions - before - (one + two + three + four) * 0.25).T
    squares = x * x + y * y + z * z
    assert square == squares.max(initial=-1.0)
    assert alike == np.count_nonzero(squares >= 0.5 * square)
    if alike:
        assert vertex == (squares >= 0.5 * square).argmax()
        assert way == [x[vertex], y[vertex], z[vertex]]
    outside = beside.copy()
    outside[count // 2] = count
    _must_raise(IndexError, _native.core.measure_tear, positions, before, outside, 0.5)
    _must_raise(ValueError, _native.core.measure_tear, positions, before, beside[:-1], 0.5)


def _blanks(text: bytes) -> int:
    return sum(map(text.count, (b" ", b"\t", b"\r")))


def _exact(text: bytes) -> memoryview:
    """Return a buffer of exactly the text's size. A bytes object has an additional byte, which would hide a read beyond
    the end."""
    return memoryview(np.frombuffer(text, np.uint8).copy())


def _lines(text: bytes) -> list[bytes]:
    return text.removesuffix(b"\n").split(b"\n") if text else []


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**9))
    options = parser.parse_args()
    print(f"seed {options.seed}, {options.cases:,} cases, {_native.description()}", flush=True)
    start = time.process_time()
    read = run_cases(options.cases, options.seed)
    print(f"{options.cases:,} cases held, {read:,} lines read; {time.process_time() - start:.0f} s")


if __name__ == "__main__":
    main()
