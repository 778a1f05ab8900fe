"""Tests of findings that are dropped because another finding explains them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.context import CheckContext
from inspector.checks.base.registry import all_checks
from inspector.checks.base.runner import run_checks
from inspector.inspection.inspection import inspect_folder
from inspector.rules.model import CheckRule, Rules
from inspector.sequence.discovery.settings import Settings
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Heard, heard, look, shot

SLIP = 2.0
"""Displacement of one frame, in scene units: 0.47 times the diagonal of the reference frame."""


def aside(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=mesh.positions + np.array([SLIP, 0, 0]))


def heard_with(folder: Path, rule: CheckRule | None) -> list[Heard]:
    rules = Rules() if rule is None else Rules(checks={"centre-jump": rule})
    return heard(look(folder, shot({5: aside}), rules=rules))


@pytest.mark.parametrize("jump", [0.03, 0.1, 0.3])
def test_one_jump_is_reported_once_at_any_threshold(jump: float, tmp_path: Path) -> None:
    said = heard_with(tmp_path, CheckRule(thresholds={"jump-diagonals": jump}))
    assert said == [("centre-jump", "warning", [5.0])]


def test_a_jump_below_the_threshold_of_the_rules_is_still_a_pop(tmp_path: Path) -> None:
    said = heard_with(tmp_path, CheckRule(thresholds={"jump-diagonals": 1.0}))
    assert said == [("pop", "warning", [5.0])]


def test_a_check_that_is_off_explains_nothing(tmp_path: Path) -> None:
    assert heard_with(tmp_path, CheckRule(severity="off")) == [("pop", "warning", [5.0])]


def test_every_check_that_explains_exists() -> None:
    known = {check.id for check in all_checks()}
    assert all(set(check.explained_by) <= known - {check.id} for check in all_checks())


def test_what_all_checks_share_is_measured_once(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inspection = inspect_folder(demo / "manta", Settings()).inspections[0]
    calls: list[object] = []

    def counted(frame: object) -> dict[object, object]:
        calls.append(frame)
        return {}

    monkeypatch.setattr("inspector.checks.base.context.material_fits", counted)
    context = CheckContext(inspection.series, inspection.context.settings, inspection.context.resolver)
    asked: list[str] = []
    fits = CheckContext.material_fits
    monkeypatch.setattr(CheckContext, "material_fits", property(lambda self: asked.append("") or fits.fget(self)))
    verdict = run_checks(context, all_checks())
    assert verdict.failed == ()
    assert len(asked) >= 2
    assert len(calls) == 1
