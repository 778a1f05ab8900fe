"""A loop cut to one round."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import move, shot


def swing(length: int, frames: int) -> dict[str, bytes]:
    phase = 2 * np.pi / length
    return move(lambda number: (0.0, np.sin((number - 1) % length * phase), 0.0), range(1, frames + 1))


@pytest.mark.parametrize(("length", "frames"), [(8, 9), (5, 13)])
def test_what_repeats_goes(tmp_path: Path, length: int, frames: int) -> None:
    files = swing(length, frames)
    result = fixed(tmp_path, files, "trim-loop")
    left = sorted(name for name in result.after if name.endswith("obj"))
    assert left == [f"manta.{number:04}.obj" for number in range(1, length + 1)]
    assert all(result.after[name] == files[name] for name in left)
    assert not result.delivery.proof.new


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "no later frame starts a second cycle"),
        (swing(8, 8), "no later frame starts a second cycle"),
        (move(lambda _: (0, 0, 0), range(1, 8)), "no later frame starts a second cycle"),
        ({name: data for name, data in swing(8, 9).items() if "0004" not in name}, "missing"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "trim-loop")
