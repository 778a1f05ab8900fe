"""Tests that the native core's values equal those of the NumPy code. Sums may differ by rounding."""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace
from typing import TypeVar

import numpy as np
import pytest

from inspector import _native
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.indices import read_faces
from inspector.formats.wavefront.numbers import read_numbers
from inspector.formats.wavefront.reader import ObjReader, read_frame
from inspector.formats.wavefront.statements import NUMBER_STATEMENTS
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.sequence.measure.motion_facts import movement
from inspector.sequence.measure.text_forms import repeated_corners
from inspector.sequence.run.cache import FactsCache
from inspector.surface.components import connected
from inspector.surface.connections import connect, same_corners
from inspector.surface.edges import edges_of
from inspector.surface.face_set import face_set
from inspector.surface.shapes import face_shapes
from inspector.surface.uv_layers import layer_spans
from inspector.surface.uv_layout import lay_out
from tests.helpers.fuzz.mutations import good_frames, mutated
from tests.helpers.native.cases import face_block, mesh, number_block
from tests.helpers.native.fuzz import run_cases

if not _native.active:  # skip the whole module, because skipping a thousand tests one by one takes seconds
    pytest.skip(_native.description(), allow_module_level=True)

Result = TypeVar("Result")
Both = Callable[[Callable[[], Result]], tuple[Result, Result]]

SUMS = 1e-13
"""Maximum relative difference between two sums of up to a million positive terms that are added in different orders.

At worst, NumPy's pairwise sums are off by fewer than 300 roundings of 1.1e-16, and the native core's sums, which add
256 terms at a time, by fewer than 4,200. In practice, both are off by about ten.
"""


@pytest.fixture
def both(monkeypatch: pytest.MonkeyPatch) -> Both[Result]:
    """Return a function that runs another function with the native core and without it, and returns both results."""

    def run(function: Callable[[], Result]) -> tuple[Result, Result]:
        native = function()
        with monkeypatch.context() as context:
            context.setattr(_native, "active", False)
            return native, function()

    return run


@pytest.mark.parametrize("seed", range(300))
def test_blocks_of_numbers(both: Both[object], seed: int) -> None:
    rng = random.Random(seed)
    keyword, text = number_block(rng)
    text *= rng.choice((1, 1, 1, 200))  # long enough for the NumPy code to read it in pieces
    least, most = NUMBER_STATEMENTS[keyword]
    native, plain = both(lambda: read_numbers(text, keyword, least, most))
    assert native.values.tobytes() == plain.values.tobytes()
    assert native.values.shape == plain.values.shape
    assert (native.decimals, native.plain, native.problems) == (plain.decimals, plain.plain, plain.problems)
    assert (native.columns is None) == (plain.columns is None)
    assert native.columns is None or np.array_equal(native.columns, plain.columns)


@pytest.mark.parametrize("seed", range(300))
def test_blocks_of_faces(both: Both[object], seed: int) -> None:
    rng = random.Random(seed)
    text = face_block(rng) * rng.choice((1, 1, 1, 200))
    native, plain = both(lambda: read_faces(text))
    for name in ("offsets", "v", "vt", "vn"):
        one, other = getattr(native, name), getattr(plain, name)
        assert one.dtype == other.dtype, name
        assert np.array_equal(one, other), name
    assert native.problems == plain.problems


@pytest.mark.parametrize("seed", range(200))
def test_broken_frames_after_whole_ones(both: Both[Frame | str], seed: int) -> None:
    chance = random.Random(seed)
    good = chance.choice(good_frames())
    data = mutated(good, chance)

    def read() -> Frame | str:
        reader = ObjReader()
        reader.read(good)
        try:
            return reader.read(data)
        except UnreadableFrame as refused:
            return repr(refused.problem)

    native, plain = both(read)
    if isinstance(native, str) or isinstance(plain, str):
        assert native == plain
        return
    for name in ("positions", "uvs", "normals"):
        assert getattr(native, name).tobytes() == getattr(plain, name).tobytes(), name
    for name in ("offsets", "v", "vt", "vn"):
        assert np.array_equal(getattr(native.corners, name), getattr(plain.corners, name)), name
    assert (native.blocks, native.runs, native.problems) == (plain.blocks, plain.runs, plain.problems)


@pytest.mark.parametrize("seed", range(300))
def test_shapes_of_faces(both: Both[object], seed: int) -> None:
    one = mesh(random.Random(seed))
    vertices = "".join(f"v {x!r} {y!r} {z!r}\n" for x, y, z in np.nan_to_num(one.positions).tolist())
    normals = "".join(f"vn {x!r} {y!r} {z!r}\n" for x, y, z in one.normals.tolist())
    faces = "".join(
        "f " + " ".join(f"{v + 1}//{vn + 1}" for v, vn in zip(one.v[a:b], one.vn[a:b], strict=True)) + "\n"
        for a, b in zip(one.offsets[:-1], one.offsets[1:], strict=True)
    )
    frame = read_frame((vertices + normals + faces).encode())
    native, plain = both(lambda: face_shapes(frame, closed=True))
    for name in ("zero_area", "concave", "non_planar", "against"):
        assert np.array_equal(getattr(native, name), getattr(plain, name)), name
    for name in ("edge_length", "area"):
        assert np.isclose(getattr(native, name), getattr(plain, name), rtol=SUMS, atol=0.0, equal_nan=True), name
    if np.isfinite(native.area):  # positive and negative parts of a volume may cancel out
        reach = float(np.abs(frame.positions).max()) * native.area
        assert abs(native.volume - plain.volume) <= SUMS * reach


@pytest.mark.parametrize("seed", range(300))
def test_edges_and_components(both: Both[object], seed: int) -> None:
    one = mesh(random.Random(seed))
    corners = Corners(one.offsets, one.v, one.v, one.vn)
    native, plain = both(lambda: edges_of(corners, one.v))
    for name in ("side", "face", "edge", "uses"):
        assert np.array_equal(getattr(native, name), getattr(plain, name)), name
    links = native.links()
    ours, theirs = both(lambda: connected(len(one.offsets) - 1, links))
    assert ours.dtype == theirs.dtype
    assert np.array_equal(ours, theirs)


@pytest.mark.parametrize("seed", range(300))
def test_what_follows_from_the_faces(both: Both[object], seed: int) -> None:
    one = mesh(random.Random(seed))
    v = one.v % random.Random(seed).choice((4, 30))  # with only four vertices, many faces are equal
    v[one.v < 0] = ABSENT
    corners = Corners(one.offsets, v, v, one.vn)
    count = len(one.positions)
    count = max(count, int(v.max(initial=-1)) + 1)
    frame = Frame(b"", (), np.zeros((count, 3)), one.positions[:, :2], one.normals, corners, (), ())
    native, plain = both(lambda: connect(corners, count))
    for name in ("components", "boundary_edges", "non_manifold_edges", "opposed_edges", "unused"):
        assert getattr(native, name) == getattr(plain, name), name
    assert [native.duplicates.tolist(), native.reversed_duplicates.tolist()] == [
        plain.duplicates.tolist(),
        plain.reversed_duplicates.tolist(),
    ]
    for function in (lambda: face_set(corners), lambda: repeated_corners(frame)):
        ours, theirs = both(function)
        assert ours == theirs


def test_faces_made_to_slow_the_search_for_equal_ones_down(both: Both[object], monkeypatch: pytest.MonkeyPatch) -> None:
    v = np.arange(3000, dtype=np.int32)
    corners = Corners(np.arange(0, 3001, 3), v, v, v)
    flags = np.empty(1000, np.uint8)
    assert _native.core.find_alike(corners.offsets, v, flags) == 0
    slow = dict(vars(_native.core), find_alike=lambda *_: -1)
    monkeypatch.setattr(_native, "core", SimpleNamespace(**slow))
    twice = corners.picked(np.array([5, 7, 5]))
    assert [found.tolist() for found in same_corners(twice)] == [[2], []]


@pytest.mark.parametrize("seed", range(300))
def test_layout_of_uvs(both: Both[object], seed: int) -> None:
    rng = random.Random(seed)
    one = mesh(rng)
    reach = rng.choice((1, 1, 2, 3, 1e200))
    uvs = np.array([[rng.choice((rng.random(), 0.5, 1.0, 1.0001)) * reach for _ in "uvw"] for _ in one.positions])
    uvs[rng.randrange(len(uvs)), rng.randrange(3)] = rng.choice((0.0, 0.0, np.nan, np.inf, -0.5, 1.0 + 1e-4))
    uvs = np.ascontiguousarray(uvs[:, : rng.choice((2, 3))])
    material = np.array([rng.randrange(-1, 2) for _ in one.offsets[1:]], np.int64)
    with np.errstate(all="ignore"):
        native, plain = both(lambda: lay_out(Corners(one.offsets, one.v, one.v, one.vn), uvs, material))
    assert (native.box, native.tiles, native.overlap) == (plain.box, plain.tiles, plain.overlap)
    assert native.mirrored == pytest.approx(plain.mirrored, rel=SUMS, abs=SUMS)
    for name in ("crossing", "collapsed"):
        assert getattr(native, name).tolist() == getattr(plain, name).tolist(), name


@pytest.mark.parametrize("seed", range(300))
def test_layers_over_uvs(both: Both[list[tuple[object, ...]]], seed: int) -> None:
    rng = random.Random(seed)
    one = mesh(rng)
    wide = rng.choice((1.0, 1.0, 1e-9, 1e9, 1e300))
    uvs = np.array([[rng.choice((rng.random(), 0.5, rng.randrange(3))) * wide for _ in "uv"] for _ in one.positions])
    uvs = uvs.reshape(-1, 2)
    corners = Corners(one.offsets, one.v, one.v, one.vn)
    material = np.array([rng.randrange(-1, rng.choice((1, 1, 3))) for _ in one.offsets[1:]], np.int64)
    box = np.array([uvs.min(axis=0, initial=0.0), uvs.max(axis=0, initial=0.0)])

    def layers() -> list[tuple[object, ...]]:
        spans = layer_spans(corners, uvs, material, box, cells)
        rows = [zip(one.first.tolist(), one.length.tolist(), one.layers.tolist(), strict=True) for one in spans]
        return [row for batch in rows for row in batch]

    cells = rng.choice((1, 7, 64))
    with np.errstate(all="ignore"):
        native, plain = both(layers)
    assert native == plain


def fan(size: int) -> str:
    """Return the `f` lines of a triangle strip over the vertices 1 to `size`."""
    return "".join(f"f {at} {at + 1} {at + 2}\n" for at in range(1, size - 1))


def test_movement(both: Both[object]) -> None:
    rng = np.random.default_rng(5)
    for size in (1, 7, 300, 5000):
        points = rng.normal(size=(2, size, 3)).round(3)
        before, frame = (
            read_frame(("".join(f"v {x} {y} {z}\n" for x, y, z in some.tolist()) + fan(size)).encode())
            for some in points
        )
        native, plain = both(lambda frame=frame, before=before: movement(frame, before))
        assert native.step == pytest.approx(plain.step, rel=SUMS)
        assert (native.leap, native.tear, native.still) == (plain.leap, plain.tear, plain.still)
        assert native.leap is not None


def test_box_leaves_out_what_is_not_finite(both: Both[object]) -> None:
    frame = read_frame(b"v 1 2 3\nv nan 9 9\nv -4 5 0.5\nv 0 0 0\nf 1 3 4\n")
    native, plain = both(lambda: read_frame(frame.data).box)
    assert native.tolist() == plain.tolist() == [[-4.0, 0.0, 0.0], [1.0, 5.0, 3.0]]


def test_findings_are_equal_also_through_a_shared_cache(
    both: Both[FolderInspection], demo: Path, tmp_path: Path
) -> None:
    native, plain = both(lambda: inspect_folder(demo))
    assert _findings(native) == _findings(plain)
    assert any(found for _, found in _findings(native)), "there is something to compare"
    folder = tmp_path / "demo"
    shutil.copytree(demo, folder)
    for file in folder.rglob("*.*"):
        os.utime(file, (1e9, 1e9))  # the cache doesn't store facts of files that were just written

    def inspect() -> FolderInspection:
        with closing(FactsCache(tmp_path / "cache")) as cache:
            return inspect_folder(folder, cache=cache)

    written, read = both(inspect)
    assert _findings(written) == _findings(read) == _findings(plain)
    with closing(FactsCache(tmp_path / "cache")) as cache:
        assert all(facts is not None for one in read.inspections for facts in cache.find(one.sequence.files))


def _findings(inspection: FolderInspection) -> list[tuple[str, list[object]]]:
    return [
        (one.sequence.pattern.display, [(found.check, found.severity, found.frames) for found in one.verdict.findings])
        for one in inspection.inspections
    ]


def test_a_few_thousand_cases_at_random() -> None:
    seed = random.SystemRandom().randrange(10**9)
    print(f"seed {seed}")  # pytest shows it if the test fails
    assert run_cases(2000, seed) > 10_000, "most lines are read by the core"
