"""Tests of `every-nth`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import shot


def test_frames_are_counted_by_number_from_the_first(tmp_path: Path) -> None:
    files = shot(numbers=[3, 4, 5, 7, 8, 9, 10, 11, 12])
    result = fixed(tmp_path, files, "every-nth", {"n": "3"})
    assert sorted(name for name in result.after if name.endswith("obj")) == [
        f"manta.{number:04}.obj" for number in (3, 9, 12)
    ]
    assert all(result.after[name] == files[name] for name in result.after.keys() & files.keys())


@pytest.mark.parametrize(
    ("parameters", "reason"),
    [
        ({}, "no n was given; to keep every second frame, use `--with every-nth:n=2`"),
        ({"n": "1"}, "of at least 2"),
        ({"n": "2.5"}, "of at least 2"),
        ({"n": "12"}, "one frame of 12"),
    ],
)
def test_refusals(tmp_path: Path, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, shot(), "every-nth", parameters)


def test_two_frames_that_are_kept_are_a_whole_sequence(tmp_path: Path) -> None:
    """Two frames don't determine a frame step, so no frames between them count as missing."""
    result = fixed(tmp_path, shot(), "every-nth", {"n": "11"})
    assert sorted(name for name in result.after if name.endswith("obj")) == ["manta.0001.obj", "manta.0012.obj"]
    assert not result.delivery.proof.new
