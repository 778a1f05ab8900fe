"""Tests of all checks on the demo's folders, with and without planted defects."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from inspector.demo.defects import DEFECTS, Defect
from inspector.inspection.inspection import FolderInspection, Inspection, inspect_folder
from inspector.sequence.discovery.settings import Settings
from tests.helpers.sequences import Heard, heard


def only(result: FolderInspection) -> Inspection:
    (inspection,) = result.inspections
    assert not inspection.verdict.failed
    return inspection


@pytest.fixture(scope="module")
def said(demo: Path) -> list[Heard]:
    return heard(only(inspect_folder(demo / "manta_broken")))


def test_the_healthy_swim_is_silent(demo: Path) -> None:
    assert heard(only(inspect_folder(demo / "manta"))) == []


@pytest.mark.parametrize("defect", DEFECTS, ids=lambda defect: defect.name)
def test_each_planted_defect_is_found_on_exactly_its_frames(defect: Defect, said: list[Heard]) -> None:
    assert (defect.check, defect.severity, [float(frame) for frame in defect.frames]) in said


@pytest.mark.parametrize("defect", DEFECTS, ids=lambda defect: defect.name)
def test_nothing_else_is_said_of_its_frames_but_the_companions(defect: Defect, said: list[Heard]) -> None:
    frames = {float(frame) for frame in defect.frames}
    checks = {check for check, severity, numbers in said if severity != "note" and frames & set(numbers)}
    assert checks - {defect.check} <= defect.companions


def test_every_finding_is_a_planted_defect(said: list[Heard]) -> None:
    planted = {(defect.check, frame) for defect in DEFECTS for frame in defect.frames}
    companions = {(check, frame) for defect in DEFECTS for check in defect.companions for frame in defect.frames}
    found = {(check, frame) for check, severity, numbers in said if severity != "note" for frame in numbers}
    notes = {(check, frame) for check, severity, numbers in said if severity == "note" for frame in numbers}
    assert found <= planted | companions
    assert notes <= planted


def test_the_kelp_that_came_wrong_as_a_whole_has_one_finding_a_cause(demo: Path) -> None:
    settings = Settings(expected=(Fraction(1), Fraction(15)), size=1.8)
    every = [float(frame) for frame in range(1, 13)]
    assert heard(only(inspect_folder(demo / "kelp_broken", settings))) == [
        ("library-missing", "error", every),
        ("missing-frames", "error", [13.0, 14.0, 15.0]),
        ("no-uvs", "error", every),
        ("scale-suspect", "error", every),
        ("texture-missing", "error", every),
    ]
