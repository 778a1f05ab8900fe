"""Tests of `trim-loop`."""

from __future__ import annotations

import re
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
    verb = "frame 9, which repeats it" if frames == 9 else "frames 6-13, which repeat it"
    assert result.step.summary == f"keep one cycle, frames 1 to {length}; drop {verb}"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (rb"\nf ", rb"\nusemtl other\nf "),
        (rb"\nf ", rb"\ns off\nf "),
        (rb"\nf ", rb"\ng tail\nf "),
        (rb"(?m)^(v .*)$", rb"\1 1 0 0"),
    ],
)
def test_another_material_smoothing_group_or_colour_is_no_repetition(tmp_path: Path, old: bytes, new: bytes) -> None:
    files = swing(8, 9)
    count = 0 if b"v" in old else 1
    files["manta.0009.obj"] = re.sub(old, new, files["manta.0009.obj"], count=count)
    with pytest.raises(Refusal, match="no later frame starts a second cycle"):
        plan_for(tmp_path, files, "trim-loop")


def test_other_normals_are_no_repetition(tmp_path: Path) -> None:
    def lit(data: bytes, z: int) -> bytes:
        data = re.sub(rb"(?m)^f .*$", lambda line: re.sub(rb"(\d+/\d+)", rb"\1/1", line[0]), data)
        return data.replace(b"\nvt ", b"\nvn 0 0 %d\nvt " % z, 1)

    files = {name: lit(data, 1) if name.endswith("obj") else data for name, data in swing(8, 9).items()}
    assert "manta.0009.obj" not in fixed(tmp_path, files, "trim-loop").after
    turned = files | {"manta.0009.obj": lit(swing(8, 9)["manta.0009.obj"], -1)}
    with pytest.raises(Refusal, match="no later frame starts a second cycle"):
        plan_for(tmp_path / "turned", turned, "trim-loop")


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
