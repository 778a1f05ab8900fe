"""Tests of frames that were exported in two units, block by block."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.jumps import JUMP_SIZE
from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Files, finding_of, heard, look, shot

FRAMES = range(1, 25)
BLOCKS = {
    "every second frame": range(2, 25, 2),
    "blocks of 3": [*range(4, 7), *range(10, 13), *range(16, 19), *range(22, 25)],
    "blocks of 6": [*range(7, 13), *range(19, 25)],
    "two blocks of 4": [*range(5, 9), *range(13, 17)],
    "a long block": range(7, 19),
}


def scaled(mesh: Mesh, factor: float = 100.0) -> Mesh:
    return mesh.edit(positions=mesh.positions * factor)


def in_centimetres(numbers: Iterable[int]) -> Files:
    return shot(dict.fromkeys(numbers, scaled), numbers=FRAMES)


@pytest.mark.parametrize("numbers", BLOCKS.values(), ids=BLOCKS)
def test_blocks_in_another_unit_are_one_error_and_are_converted_exactly(numbers: list[int], tmp_path: Path) -> None:
    files = in_centimetres(numbers)
    inspection = look(tmp_path / "look", files)
    assert heard(inspection) == [("size-jump", "error", [float(number) for number in numbers])]
    message = finding_of(inspection, "size-jump").message
    assert message.startswith("the object is 100 times as large as in the other frames (the factor between metres and")
    result = fixed(tmp_path / "fixed", files, "align-outlier")
    right = shot(numbers=FRAMES)
    for number in FRAMES:
        name = f"manta.{number:04}.obj"
        assert (
            result.after[name] == right[name]
            if number not in numbers
            else positions(result.after[name]) == (pytest.approx(positions(right[name]), abs=1e-8))
        )


def positions(data: bytes) -> list[float]:
    return [float(word) for line in data.splitlines() if line[:2] == b"v " for word in line.split()[1:4]]


def test_the_stated_size_decides_which_frames_are_wrong(tmp_path: Path) -> None:
    most = [number for number in FRAMES if number not in BLOCKS["two blocks of 4"]]
    size = float(np.ptp(np.reshape(positions(shot()["manta.0001.obj"]), (-1, 3)), axis=0).max())
    files = in_centimetres(most)
    assert heard(look(tmp_path / "1", files))[0][2] == [float(number) for number in BLOCKS["two blocks of 4"]]
    assert heard(look(tmp_path / "2", files, size=size)) == [("size-jump", "error", [float(one) for one in most])]


@pytest.mark.parametrize("length", [1, 2, 8, 9])
def test_a_run_of_any_length_is_one_error(length: int, tmp_path: Path) -> None:
    run = range(7, 7 + length)
    assert heard(look(tmp_path, in_centimetres(run))) == [("size-jump", "error", [float(number) for number in run])]


@pytest.mark.parametrize(("beside", "found"), [(0.99, True), (1.01, False)])
def test_sizes_that_also_jump_otherwise_are_not_judged(beside: float, found: bool, tmp_path: Path) -> None:
    """A set of poses may contain two sizes that differ by the factor between two units."""
    wide = {10: lambda mesh: scaled(mesh, 100.0 * JUMP_SIZE.value * beside)}
    files = shot(dict.fromkeys(BLOCKS["blocks of 6"], scaled) | wide, numbers=FRAMES)
    said = [one for one in heard(look(tmp_path, files)) if one[0] == "size-jump"]
    assert (len(said) == 1 and len(said[0][2]) == len(BLOCKS["blocks of 6"])) is found


def test_scale_refuses_to_change_all_frames(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="the frames are in different units; the fix `align-outlier` converts them"):
        plan_for(tmp_path, in_centimetres(BLOCKS["blocks of 6"]), "scale", size=2.0)
