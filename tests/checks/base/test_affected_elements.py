"""Tests of the faces and vertices that a finding affects. The expected elements are counted by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from inspector.checks.base.affected_elements import AffectedElements, affected_elements
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.formats.frame import FaceRun, Frame
from inspector.formats.wavefront.reader import read_frame
from inspector.inspection.inspection import inspect_folder
from inspector.names import Name

FILE = Name(b"manta.0001.obj")

STRIP = """
v 0 0 0
v 1 0 0
v 2 0 0
v 3 0 0
v 0 1 0
v 1 1 0
v 2 1 0
v 3 1 0
vt 0 0
vt .5 0
vt 1 0
vt 1.5 0
vt 0 1
vt .5 1
vt 1 1
vt 1.5 1
vn 0 0 1
"""


def frame(*faces: str) -> Frame:
    return read_frame((STRIP + "".join(f"f {face}\n" for face in faces)).encode())


def quad(*corners: int, form: str = "{0}/{0}/1") -> str:
    return " ".join(form.format(corner) for corner in corners)


GOOD = (quad(1, 2, 6, 5), quad(2, 3, 7, 6), quad(3, 4, 8, 7))


def picked(check: str, one: Frame, reference: Frame | None = None, *where: Where) -> AffectedElements:
    return affected_elements(Finding(check, Severity.ERROR, "", (Fraction(1),), where), one, FILE, reference)


@pytest.mark.parametrize(
    ("check", "faces", "expected"),
    [
        ("no-uvs", (GOOD[0], quad(2, 3, 7, 6, form="{0}//1"), GOOD[2]), [1]),
        ("missing-normals", (quad(1, 2, 6, 5, form="{0}/{0}"), *GOOD[1:]), [0]),
        ("duplicate-faces", (*GOOD, GOOD[1]), [3]),
        ("coincident-faces", (*GOOD, quad(6, 7, 3, 2)), [3]),
        ("repeated-corners", (GOOD[0], quad(2, 3, 3, 6), GOOD[2]), [1]),
        ("zero-area-faces", (*GOOD, quad(1, 2, 3)), [3]),
        ("concave-faces", (quad(1, 4, 5, 2), GOOD[1]), [0]),
        ("reversed-normals", (GOOD[0], quad(6, 7, 3, 2)), [1]),
        ("boundary-edges", GOOD, [0, 1, 2]),
        ("index-range", (GOOD[0], quad(2, 3, 99, 6, form="{0}//1")), [1]),
        ("uv-index-range", (GOOD[0], "2/2/1 3/3/1 7/99/1"), [1]),
        ("uv-outside", GOOD, [2]),
        ("uv-mirrored", (GOOD[0], "2/6/1 3/7/1 7/3/1 6/2/1"), [1]),
        ("uv-collapsed", ("1/1/1 2/2/1 6/2/1 5/1/1", GOOD[1]), [0]),
        ("n-gons", (GOOD[0], " ".join(f"{1 + n % 8}/1/1" for n in range(256))), [1]),
        ("faces-without-material", GOOD, [0, 1, 2]),
    ],
)
def test_faces_of_a_frame(check: str, faces: tuple[str, ...], expected: list[int]) -> None:
    assert picked(check, frame(*faces)).faces.tolist() == expected


@pytest.mark.parametrize(
    ("check", "faces", "expected"),
    [
        ("uv-mismatch", (GOOD[0], "2/3/1 3/2/1 7/7/1 6/6/1", GOOD[2]), [1]),
        ("changed-faces", (*GOOD[:2], quad(3, 4, 8, 6)), [2]),
        ("winding", (quad(5, 6, 2, 1), *GOOD[1:]), [0]),
    ],
)
def test_faces_that_differ_from_the_references(check: str, faces: tuple[str, ...], expected: list[int]) -> None:
    assert picked(check, frame(*faces), frame(*GOOD)).faces.tolist() == expected
    assert not len(picked(check, frame(*faces[:2]), frame(*GOOD)).faces)


def test_vertices_of_no_face() -> None:
    assert picked("unused-vertices", frame(*GOOD[:2])).vertices.tolist() == [3, 7]


def test_a_material_is_told_by_its_faces() -> None:
    runs = (FaceRun(0, 2, 0, material=Name(b"skin")), FaceRun(2, 3, 0))
    assert picked("faces-without-material", replace(frame(*GOOD), runs=runs)).faces.tolist() == [2]


def test_places_are_taken_where_nothing_else_is_known() -> None:
    places = [
        Where(FILE, 9, "face 2"),
        Where(FILE, 3, "vertex 4"),
        Where(Name(b"manta.0002.obj"), 9, "face 3"),
        Where(FILE, 9, "face 77"),
        Where(FILE, 1, "skin"),
        Where(FILE),
    ]
    found = picked("spike", frame(*GOOD), None, *places)
    assert (found.faces.tolist(), found.vertices.tolist(), found.first_only) == ([1], [3], True)
    assert not picked("frozen", frame(*GOOD), None, Where(FILE)).first_only


def test_all_that_a_finding_counts_is_picked_out(demo: Path) -> None:
    one = inspect_folder(demo / "manta_broken").inspections[0]
    at = {facts.number: index for index, facts in enumerate(one.series.facts)}
    found = [finding for finding in one.findings if finding.check == "uv-mismatch"]
    assert found
    for finding in found:
        most = 0
        for index in (at[number] for number in finding.frames):
            frame, name = one.context.frame(index), one.context.file_name(index)
            most = max(most, len(affected_elements(finding, frame, name, one.context.reference_frame).faces))
        assert most == finding.numbers["faces"]
