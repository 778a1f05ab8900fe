"""Tests of numbered files that are not the frames of a motion."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector import inspect
from tests.helpers.bodies import any_surface, ball, ring, sheet
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Files, frames, write
from tests.helpers.verdicts import errors_and_warnings

SEEDS = [1, 2, 3]


def parts(seed: int) -> Files:
    rng = np.random.default_rng(seed)
    made = {}
    for number in range(1, 11):
        rows = int(rng.integers(6, 14))
        kind = number % 3
        surface = (
            ball(rng, rows, rows + 2) if kind == 0 else ring(rng, rows, 6) if kind == 1 else sheet(rng, rows, rows)
        )
        place = 3.0 * rng.normal(size=3)
        made[number] = Mesh(surface.positions * rng.uniform(0.4, 1.5) + place, surface.faces, surface.uvs)
    return frames(made)


def levels_of_detail(seed: int) -> Files:
    made = {}
    for number, side in enumerate((40, 28, 20, 14, 10, 7), 1):
        surface = ball(np.random.default_rng(seed), side, side)
        made[number] = Mesh(surface.positions, surface.faces)
    return frames(made)


def shapes(seed: int) -> Files:
    surface, rng = any_surface(seed), np.random.default_rng(seed)
    basis = rng.normal(0, 0.2, (6, 4, 3))
    waves = [np.sin(surface.positions @ rng.normal(0, 1, (3, 4)) + rng.uniform(0, 6, 4)) for _ in range(6)]
    made = {}
    for number in range(1, 21):
        weights = rng.uniform(0, 1, 6) ** 3
        shape = sum(weight * wave @ amounts for weight, wave, amounts in zip(weights, waves, basis, strict=True))
        made[number] = Mesh(surface.positions + shape, surface.faces)
    return frames(made)


@pytest.mark.parametrize("seed", SEEDS)
def test_parts_of_a_body_are_no_sequence(seed: int, tmp_path: Path) -> None:
    result = inspect(write(tmp_path, parts(seed)))
    assert not result.inspections
    assert [notice.count for notice in result.not_sequences] == [10]


@pytest.mark.parametrize("seed", SEEDS)
def test_levels_of_detail_are_no_sequence(seed: int, tmp_path: Path) -> None:
    assert not inspect(write(tmp_path, levels_of_detail(seed))).inspections


@pytest.mark.parametrize("seed", SEEDS)
def test_a_set_of_shapes_has_no_faults_of_motion(seed: int) -> None:
    of_motion = {"pop", "spike", "jitter", "frozen", "dropped-frames", "centre-jump", "size-jump", "vertex-order"}
    assert {one.check for one in errors_and_warnings(shapes(seed))} & of_motion == set()


def test_a_compilers_object_file_is_called_so(tmp_path: Path) -> None:
    """The files start with the header of a COFF object file: the machine type is 0x8664, and a section table follows
    (Microsoft PE/COFF specification, "COFF File Header")."""
    header = b"\x64\x86\x07\x00" + b"\x10\x2b\x5c\x61" + b"\x00\x40\x00\x00" + b"\x20\x00\x00\x00" + b"\0\0\0\0"
    files = {f"mesh{number}.obj": header + b".text\0\0\0" + bytes(range(256)) * 8 for number in range(1, 5)}
    result = inspect(write(tmp_path, files))
    messages = [finding.message for one in result.inspections for finding in one.findings]
    messages += [notice.reason for notice in result.not_sequences]
    assert any("object file" in message for message in messages), messages


def test_a_compilers_object_file_without_a_number_is_called_so(tmp_path: Path) -> None:
    header = b"\x64\x86\x07\x00" + b"\x10\x2b\x5c\x61" + b"\x00\x40\x00\x00" + b"\x20\x00\x00\x00" + b"\0\0\0\0"
    result = inspect(write(tmp_path, shapes(1) | {"viewer.obj": header + b".text\0\0\0" + bytes(64)}))
    assert [(path.name, "object file" in reason) for path, reason in result.discovery.left_out] == [
        ("viewer.obj", True)
    ]
