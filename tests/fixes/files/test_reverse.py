"""Tests of `reverse`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.planning import make_plan
from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import look_at_all, shot


def test_the_last_frame_comes_first_byte_for_byte(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot(), "reverse")
    for number in range(1, 13):
        assert result.after[f"manta.{number:04}.obj"] == shot()[f"manta.{13 - number:04}.obj"]
    assert not result.delivery.proof.new


def test_with_a_gap_it_is_refused_and_new_numbers_conflict(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="frames are missing"):
        plan_for(tmp_path / "gap", shot(numbers=[1, 2, 4, 5]), "reverse")
    inspection = look_at_all(tmp_path / "both", shot())
    with pytest.raises(Refusal, match="reverse and renumber both set the numbers of frames"):
        make_plan(inspection, [Choice("reverse"), Choice("renumber", {"start": "5"})])
