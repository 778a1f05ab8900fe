"""Tests of `swapped-frames`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Files, along_x, finding_of, heard, look, shot


def in_order(files: Files, order: Sequence[int]) -> Files:
    frames = {f"manta.{at:04}.obj": files[f"manta.{number:04}.obj"] for at, number in enumerate(order, 1)}
    return {name: data for name, data in files.items() if not name.endswith(".obj")} | frames


@pytest.mark.parametrize("first", [2, 5, 10])
def test_two_neighbours(first: int, tmp_path: Path) -> None:
    order = list(range(1, 13))
    order[first - 1 : first + 1] = [first + 1, first]
    said, _ = broken(tmp_path, "swapped-frames", in_order(shot(), order))
    assert said == [("swapped-frames", "warning", [float(first), float(first + 1)])]


def test_in_perfectly_even_motion(tmp_path: Path) -> None:
    said = heard(look(tmp_path, along_x([0, 1, 2, 3, 4, 6, 5, 7, 8, 9, 10, 11])))
    assert said == [("swapped-frames", "warning", [6.0, 7.0])]


@pytest.mark.parametrize(
    ("firsts", "words"),
    [
        ([5], "frames 6 and 7 are swapped: "),
        ([5, 14, 23], "3 pairs of frames (6 and 7; 15 and 16; 24 and 25) are swapped: "),
        ([5, 14, 23, 32], "4 pairs of frames (6 and 7; 15 and 16; 24 and 25; and 1 more) are swapped: "),
    ],
)
def test_the_message_lists_three_pairs(firsts: list[int], words: str, tmp_path: Path) -> None:
    order = list(range(40))
    for first in firsts:
        order[first : first + 2] = [first + 1, first]
    finding = finding_of(look(tmp_path, along_x(order)), "swapped-frames")
    assert finding.message == f"{words}in the opposite order, the motion is smooth"


def test_on_twos(tmp_path: Path) -> None:
    said = heard(look(tmp_path, along_x([0, 0, 1, 1, 2, 3, 2, 3, 4, 4, 5, 5, 6, 6, 7, 7])))
    assert [one for one in said if one[1] != "note"] == [("swapped-frames", "warning", [6.0, 7.0])]


@pytest.mark.parametrize(
    "path",
    [
        [0.0] * 8 + [2, -2, 2, -2, 1, -1] + [0.0] * 8,
        [0, 1, 2, 3, 4, 3, 4, 5, 6, 7, 8, 9],
        [0, 3, 4, 3] * 5,
        [*range(8), *range(6, -1, -1)],
    ],
    ids=["shaking", "a step back", "bouncing", "there and back"],
)
def test_other_motion_to_and_fro(path: list[float], tmp_path: Path) -> None:
    said = heard(look(tmp_path, along_x(path)))
    assert "swapped-frames" not in {check for check, _, _ in said}


@pytest.mark.parametrize(("apart", "found"), [(0.8e-4, False), (1.2e-4, True)])
def test_how_far_the_two_must_be_apart(apart: float, found: bool, tmp_path: Path) -> None:
    """The limit is 1e-4 diagonals (SWAPPED_APART), or 4.3e-4 units here, which six decimal places can represent."""
    diagonal = float(np.linalg.norm(np.ptp(wing(0).positions, axis=0)))
    said = heard(look(tmp_path, along_x([apart * diagonal * at for at in (0, 1, 2, 3, 4, 6, 5, 7, 8, 9, 10, 11)])))
    assert ("swapped-frames" in {check for check, _, _ in said}) is found
