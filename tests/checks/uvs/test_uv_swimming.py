"""Tests of `uv-swimming`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.uvs import trembling
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot
from tests.helpers.surfaces import NUMBERS
from tests.helpers.uvs import laid, moved

LATER = [float(number) for number in NUMBERS if number > 1]


def test_uvs_that_tremble(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-swimming", trembling(0.01))
    assert said == [("uv-swimming", "warning", LATER)]
    finding = finding_of(inspection, "uv-swimming")
    assert finding.fixes == ("uv-restore",)
    assert 0.002 < finding.numbers["usual"] <= finding.numbers["longest"] < 0.012  # type: ignore[operator]


def test_uvs_that_drift_are_meant(tmp_path: Path) -> None:
    files = shot({n: laid(moved(0.005 * n, 0)) for n in NUMBERS})
    inspection = look(tmp_path, files)
    assert heard(inspection) == [("uv-swimming", "note", LATER)]
    numbers = finding_of(inspection, "uv-swimming").numbers
    assert numbers["usual"] == numbers["longest"] == pytest.approx(0.005, abs=1e-5)
    assert numbers["reach"] == pytest.approx(11 * 0.005, abs=1e-5)


def test_a_slow_drift_is_seen_by_its_reach(tmp_path: Path) -> None:
    files = shot({n: laid(moved(0.00005 * n, 0)) for n in NUMBERS})
    assert heard(look(tmp_path, files)) == [("uv-swimming", "note", LATER)]


@pytest.mark.parametrize(("reach", "found"), [(0.00008, False), (0.00012, True)])
def test_how_far_a_drift_must_reach(reach: float, found: bool, tmp_path: Path) -> None:
    files = shot({n: laid(moved(reach * (n - 1) / 11, 0)) for n in NUMBERS})
    assert heard(look(tmp_path, files)) == [("uv-swimming", "note", LATER)] * found


def test_noise_of_the_last_digits_is_none(tmp_path: Path) -> None:
    assert heard(look(tmp_path, trembling(0.00005))) == []


@pytest.mark.parametrize(("degrees", "severity"), [(85, "note"), (95, "warning")])
def test_from_which_turn_on_a_drift_is_a_jitter(degrees: float, severity: str, tmp_path: Path) -> None:
    """The correlation of two steps is the cosine of the angle between them. The limit is 0 (SWIM_SMOOTH)."""
    steps = 0.005 * np.exp(1j * np.radians(degrees) * np.arange(12.0))
    way = np.stack([steps.cumsum().real, steps.cumsum().imag], axis=1) + 0.02
    files = shot({n: laid(lambda uv, n=n: uv * 0.95 + way[n - 1], first=0) for n in NUMBERS})
    assert heard(look(tmp_path, files)) == [("uv-swimming", severity, LATER)]
