"""Tests of the facts of a frame. The expected values were calculated by hand for small meshes."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.formats.element_lines import face_line
from inspector.formats.wavefront.reader import ObjReader
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.measure import Known, digest, measure

FILE = FrameFile(Fraction(1), Path("/nowhere/manta.0001.obj"), 1, 1)
TEXT = b"""\
mtllib m.mtl
o ray
v 0 0 0
v 3 0 0
v 0 4 0
v 0 0 12
vt 0 0
vt 1 1
usemtl skin
f 1/1 2/2 3/1
f 1 2 4
# between
f 2 3 4
usemtl fin
f 3/1 1 4
"""


def facts_of(*texts: bytes) -> list[FrameFacts]:
    reader, before, known = ObjReader(), None, None
    found = []
    for text in texts:
        frame = reader.read(text)
        facts = measure(frame, FILE, before, known)
        before, known = frame, Known(frame, facts)
        found.append(facts)
    return found


def test_counts_box_and_names() -> None:
    (facts,) = facts_of(TEXT)
    assert (facts.vertices, facts.uvs, facts.normals, facts.faces) == (4, 2, 0, 4)
    assert facts.box == (0, 0, 0, 3, 4, 12)
    assert [name.raw for name in facts.materials] == [b"skin", b"fin"]
    assert [name.raw for name in facts.objects] == [b"ray"]
    assert [(line.name.raw, line.line) for line in facts.libraries] == [(b"m.mtl", 1)]
    assert (facts.step, facts.still) == (None, False)


def test_faces_without_uvs_and_the_first_of_them() -> None:
    (facts,) = facts_of(TEXT)
    assert facts.faces_without_uvs == 3  # a face counts if one of its corners has no UV
    assert facts.first_face_without_uvs is not None
    assert (facts.first_face_without_uvs.line, facts.first_face_without_uvs.element) == (11, 1)


def test_the_line_of_a_face_over_blocks() -> None:
    frame = ObjReader().read(TEXT)
    lines = TEXT.split(b"\n")
    assert [lines[face_line(frame, face) - 1] for face in range(4)] == [line for line in lines if line[:2] == b"f "]


def test_a_step_is_the_mean_way_of_the_vertices() -> None:
    """One of four vertices moves by (3, 4, 12), whose length is sqrt(169) = 13."""
    _, facts = facts_of(TEXT, TEXT.replace(b"v 0 0 12", b"v 3 4 24"))
    assert facts.step == pytest.approx(13 / 4)
    assert not facts.still


def test_equal_positions_are_still_whatever_else_differs() -> None:
    _, same, other_header = facts_of(TEXT, TEXT, b"# later\n" + TEXT.replace(b"v 3 0 0", b"v 3.0 0e5 -0.0"))
    assert (same.step, same.still) == (0.0, True)
    assert (other_header.step, other_header.still) == (0.0, True)


@pytest.mark.parametrize("after", [TEXT.replace(b"v 0 0 12\n", b""), TEXT.replace(b"v 0 0 12", b"v 0 0 nan")])
def test_no_step_between_frames_that_cannot_be_compared(after: bytes) -> None:
    _, facts = facts_of(TEXT, after)
    assert (facts.step, facts.still) == (None, False)


def test_the_box_leaves_out_vertices_that_are_no_numbers() -> None:
    (facts,) = facts_of(TEXT.replace(b"v 0 0 12", b"v 0 0 inf"))
    assert facts.box == (0, 0, 0, 3, 4, 0)
    (none,) = facts_of(b"v nan nan nan\n")
    assert none.box is None


DIGESTS = ("topology", "uv_indices", "uv_values")


@pytest.mark.parametrize(
    ("old", "new", "differs"),
    [
        (b"v 3 0 0", b"v 4 0 0", set()),
        (b"f 1 2 4", b"f 1 3 4", {"topology"}),
        (b"f 1 2 4", b"f 2 4 1", {"topology"}),
        (b"f 1/1 2/2 3/1", b"f 1/2 2/2 3/1", {"uv_indices"}),
        (b"vt 1 1", b"vt 1 0.5", {"uv_values"}),
        (b"vt 1 1", b"vt 1 1.000", set()),
        (b"f 1 2 4\n# between\nf 2 3 4", b"f 1 2 4 2 3\n# between\nf 4", {"topology"}),
        (b"usemtl fin", b"usemtl tail", set()),
        (b"mtllib m.mtl\n", b"# one\n# two\nvn 0 0 1\n", set()),
    ],
)
def test_digests_differ_where_and_only_where_the_values_do(old: bytes, new: bytes, differs: set[str]) -> None:
    changed = TEXT.replace(old, new)
    assert changed != TEXT
    (one,), (other,) = facts_of(TEXT), facts_of(changed)
    assert {name for name in DIGESTS if getattr(one, name) != getattr(other, name)} == differs
    _, behind = facts_of(TEXT, changed)
    assert {name: getattr(behind, name) for name in DIGESTS} == {name: getattr(other, name) for name in DIGESTS}


def test_a_digest_tells_shapes_apart() -> None:
    flat = np.arange(6.0)
    assert digest(flat) == digest(flat.copy())
    assert len({digest(flat), digest(flat.reshape(2, 3)), digest(flat.reshape(3, 2)), digest(flat[:0])}) == 4
