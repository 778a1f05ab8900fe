"""Tests of `reduce-decimals`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import wing
from tests.helpers.sequences import frames, shot

LONG = {name: wing(int(name[6:10])).text(15) if name.endswith("obj") else data for name, data in shot().items()}


def test_digits_go_and_no_vertex_moves_by_a_millionth_of_the_diagonal(tmp_path: Path) -> None:
    result = fixed(tmp_path, LONG, "reduce-decimals")
    reference = read_frame(LONG["manta.0001.obj"])
    assert reference.box is not None
    diagonal = float(np.linalg.norm(reference.box[1] - reference.box[0]))
    for name in LONG:
        if name.endswith("obj"):
            before, after = (read_frame(files[name]) for files in (LONG, result.after))
            assert np.linalg.norm(after.positions - before.positions, axis=1).max() < 1e-6 * diagonal
            assert result.touched(name) == {b"v"}
    saved = sum(len(LONG[name]) - len(result.after[name]) for name in LONG)
    # The number is estimated from the first frame, which has a different number of minus signs.
    assert result.step.parameters["saved"] == pytest.approx(saved, rel=0.02)
    assert not result.delivery.proof.new


@pytest.mark.parametrize(("side", "needed"), [(999_999.0, 1), (1_000_000.0, 0)])
def test_a_mesh_of_a_million_units_needs_whole_numbers(tmp_path: Path, side: float, needed: int) -> None:
    text = f"v 0.00 0.00 0.00\nv {side:.2f} 0.00 0.00\nv 0.00 %d.25 0.00\nf 1 2 3\n"
    files = {f"a.000{n}.obj": (text % n).encode() for n in (1, 2, 3)}
    result = fixed(tmp_path, files, "reduce-decimals")
    assert result.step.parameters["decimals"] == needed
    assert f" with {needed} decimal place{'' if needed == 1 else 's'}, which saves " in result.step.summary
    assert result.after["a.0001.obj"].startswith(b"v 0 0 0\n" if needed == 0 else b"v 0.0 0.0 0.0\n")


POINT = {f"a.000{n}.obj": b"v 1.50 1.50 1.50\nv 1.50 1.50 1.50\nv 1.50 1.50 1.50\nf 1 2 3\n" for n in (1, 2, 3)}


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (frames({1: wing(1).edit(), 2: wing(2)}), "no frame has more decimal places than the 6"),
        (POINT, "the size of the reference frame is zero"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "reduce-decimals")
