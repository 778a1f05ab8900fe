"""Tests of frames that don't keep their whole text, compared with frames that are read from the whole text."""

from __future__ import annotations

import tracemalloc
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Material, Mesh, Part, corners_of
from inspector.formats.reading import FrameReader, ParsedFile
from inspector.formats.registry import format_by_id
from inspector.formats.wavefront.compose import compose
from inspector.formats.wavefront.excerpt import excerpt
from inspector.names import Name
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.measure import Known, measure
from tests.helpers.meshes import torus, wing
from tests.helpers.meshes_out import mesh_of

FILE = FrameFile(Fraction(1), Path("/nowhere/manta.0001.ply"), 1, 1)
LIBRARY = Name(b"manta.mtl")
GRID = mesh_of(torus(40, 30))
WING = mesh_of(wing(0.3))
DOUBLE = mesh_of(wing(0.3), np.float64)


def facts_of(meshes: Sequence[Mesh], whole: bool) -> list[FrameFacts]:
    reader, known, found = FrameReader(), None, []
    with patch("inspector.formats.reading.excerpt", (lambda *_: None) if whole else excerpt):
        for mesh in meshes:
            frame = reader.read_to_measure(ParsedFile(FILE.path, format_by_id("ply"), mesh))
            facts = measure(frame, FILE, None if known is None else known.frame, known)
            known = Known(frame, facts)
            found.append(facts)
    return found


def with_indices(mesh: Mesh, slot: str, at: slice, index: int) -> Mesh:
    indices = getattr(mesh.corners, slot).copy()
    indices[at] = index
    return replace(mesh, corners=replace(mesh.corners, **{slot: indices}))


def with_positions(mesh: Mesh, row: int, value: float) -> Mesh:
    positions = mesh.positions.copy()
    positions[row] = value
    return replace(mesh, positions=positions)


def sized(mesh: Mesh, *sizes: int) -> Mesh:
    count = sum(sizes)
    corners = mesh.corners
    offsets = np.concatenate([[0], np.cumsum(sizes)])
    cut = corners_of(offsets, corners.v[:count], corners.vt[:count], corners.vn[:count])
    return replace(mesh, corners=cut, parts=(Part(0, len(sizes)),))


PARTS = (
    Part(0, 400, Name(b"bell"), Name(b"skin")),
    Part(400, 400, Name(b"nothing"), Name(b"skin")),
    Part(400, 700, Name(b"bell"), Name(b"skin")),
    Part(700, 900, Name(b"bell"), Name(b"skin")),
    Part(900, 1200, None, Name("fläche #2 \\".encode())),
)
REGULAR = {
    "single precision": GRID,
    "double precision": replace(GRID, positions=GRID.positions.astype(np.float64) / 3),
    "few decimals": replace(GRID, positions=np.round(GRID.positions.astype(np.float64), 3)),
    "few, and some with all": replace(
        GRID, positions=np.where(np.arange(1200)[:, None] % 9, np.round(GRID.positions.astype(np.float64), 2), 1 / 3)
    ),
    "exponents": replace(DOUBLE, positions=DOUBLE.positions * 1e-30),
    "big-endian": replace(GRID, positions=GRID.positions.astype(">f4")),
    "UVs and normals": WING,
    "no UVs": with_indices(replace(WING, uvs=np.zeros((0, 2))), "vt", slice(None), ABSENT),
    "parts": replace(GRID, parts=PARTS, materials=(Material(Name(b"skin"), colour=(1.0, 0.5, 0.0)),)),
    "a name that is not UTF-8": replace(GRID, parts=(Part(0, 1200, Name(b"\xff\xfe")),)),
    "a cloud": replace(sized(GRID), parts=()),
    "a part without faces": sized(GRID),
    "the same vertex twice": with_indices(GRID, "v", slice(0, 2), 7),
    "a face of 255 corners": sized(GRID, 4, 255),
}
IRREGULAR = {
    "not a number": with_positions(GRID, 3, np.nan),
    "infinite": with_positions(GRID, 3, np.inf),
    "an index too high": with_indices(GRID, "v", slice(5, 6), 1200),
    "an index below": with_indices(GRID, "v", slice(5, 6), ABSENT),
    "UVs of some faces": with_indices(WING, "vt", slice(0, 4), ABSENT),
    "a UV too high": with_indices(WING, "vt", slice(0, 1), len(WING.uvs)),
    "a face of two corners": sized(GRID, 4, 2, 3),
    "a face without corners": sized(GRID, 4, 0, 3),
    "a face of 256 corners": sized(GRID, 4, 256),
    "colours": replace(GRID, colours=np.full((1200, 3), 0.25)),
}


@pytest.mark.parametrize("name", [*REGULAR, *IRREGULAR])
def test_the_facts_are_those_of_the_whole_text(name: str) -> None:
    mesh = (REGULAR | IRREGULAR)[name]
    moved = replace(mesh, positions=mesh.positions * np.float32(1.25) + np.float32(0.1))
    sequence = [mesh, mesh, moved, GRID, moved]
    assert facts_of(sequence, whole=False) == facts_of(sequence, whole=True)


@pytest.mark.parametrize("name", [*REGULAR, *IRREGULAR])
def test_only_irregular_meshes_need_the_whole_text(name: str) -> None:
    made = excerpt((REGULAR | IRREGULAR)[name], LIBRARY, None, None)
    assert (made is None) == (name in IRREGULAR)


def test_without_a_vertex_the_whole_text_says_so() -> None:
    empty = replace(sized(GRID), positions=np.zeros((0, 3)), uvs=np.zeros((0, 2)), normals=np.zeros((0, 3)))
    assert excerpt(empty, LIBRARY, None, None) is None
    assert facts_of([empty], whole=False)[0].vertices == 0


NUMBERS = st.one_of(
    st.floats(width=32, allow_nan=False, allow_infinity=False),
    st.floats(allow_nan=False, allow_infinity=False),
    st.decimals(-1000, 1000, places=3).map(float),
)


@settings(max_examples=25, deadline=None)
@given(st.lists(NUMBERS, min_size=9, max_size=60), st.sampled_from([np.float32, np.float64]), st.integers(1, 400))
def test_any_numbers_are_those_of_the_whole_text(numbers: list[float], dtype: type, repeated: int) -> None:
    with np.errstate(over="ignore"):
        rows = np.array(numbers[: len(numbers) // 3 * 3], dtype).reshape(-1, 3)
    positions = np.tile(rows, (repeated, 1))
    corners = corners_of(np.array([0, 3]), np.array([0, 1, 2]))
    sequence = [Mesh(positions, corners, parts=(Part(0, 1),)), Mesh(-positions, corners, parts=(Part(0, 1),))]
    assert facts_of(sequence, whole=False) == facts_of(sequence, whole=True)


def test_what_two_frames_have_in_common_is_shared() -> None:
    one = excerpt(WING, LIBRARY, None, None)
    assert one is not None
    copied = corners_of(*(getattr(WING.corners, name).copy() for name in ("offsets", "v", "vt", "vn")))
    moved = replace(WING, positions=WING.positions + np.float32(1), uvs=WING.uvs.copy(), corners=copied)
    two = excerpt(moved, LIBRARY, one.frame, one)
    assert two is not None
    assert two.frame.uvs is one.frame.uvs
    assert two.frame.normals is one.frame.normals
    assert two.frame.corners.v is one.frame.corners.v
    assert two.frame.corners.offsets is one.frame.corners.offsets
    assert two.frame.positions is not one.frame.positions


def test_memory_holds_no_text() -> None:
    side = 300
    values = np.round(np.random.default_rng(3).normal(size=(side * side, 3)), 6)
    indices = np.random.default_rng(4).integers(0, len(values), 6 * len(values))
    mesh = Mesh(values, corners_of(np.arange(0, len(indices) + 1, 3), indices), parts=(Part(0, len(indices) // 3),))
    with patch("inspector.formats.wavefront.compose.TOGETHER", 1 << 10):
        text = len(compose(mesh))
        tracemalloc.start()
        made = excerpt(mesh, LIBRARY, None, None)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert made is not None
    assert made.frame.positions is values, "numbers that the text holds exactly are not copied"
    assert len(made.frame.data) < 20_000
    assert peak < text / 4
