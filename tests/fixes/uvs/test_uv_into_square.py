"""Tests of `uv-into-square`.

If the UV layout of a sheet is affine, the texture's required aspect ratio is the length of one unit of u on the sheet,
divided by the length of one unit of v.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.planning import make_plan
from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import look_at_all
from tests.helpers.shapes import remapped
from tests.helpers.uv_sheets import SHEET, fit_of, sheets, uvs_of

FAR = remapped(SHEET, lambda u, v: (3.0 * u - 4.0, 2.0 + 0.5 * v))


@pytest.mark.parametrize(("aspect", "box"), [(None, (1.0, 9 / 16)), (16 / 9, (1.0, 1.0)), (4.0, (4 / 9, 1.0))])
def test_the_proportion_is_that_of_the_texture(tmp_path: Path, aspect: float | None, box: tuple[float, float]) -> None:
    """The UVs of a sheet of 16 x 9 units fill a box of 1 x 9/16 in a square texture, and (16 / 9) / 4 of the width of a
    4:1 texture."""
    result = fixed(tmp_path, sheets(FAR), "uv-into-square", {} if aspect is None else {"aspect": aspect})
    after = uvs_of(result.after["manta.0003.obj"])
    assert np.ptp(after, axis=0) == pytest.approx(box, abs=2e-6)
    assert (after.min(axis=0) + after.max(axis=0)) / 2 == pytest.approx((0.5, 0.5), abs=1e-6)
    assert fit_of(tmp_path / "out").wanted_aspect == pytest.approx(aspect or 1.0, rel=1e-5)
    assert result.touched("manta.0001.obj") == {b"vt"}
    assert result.delivery.proof.clean


def test_one_change_serves_all_frames(tmp_path: Path) -> None:
    files = sheets(SHEET) | {"manta.0002.obj": remapped(SHEET, lambda u, v: (u + 1.0, v)).text()}
    result = fixed(tmp_path, files, "uv-into-square", {"aspect": 16 / 9})
    first, second = (uvs_of(result.after[f"manta.000{number}.obj"]) for number in (1, 2))
    assert second - first == pytest.approx(np.tile([0.5, 0.0], (len(first), 1)), abs=2e-6)
    assert first.min() >= 0.0
    assert second.max() <= 1.0


def test_a_saved_plan_makes_the_same_change_of_another_export(tmp_path: Path) -> None:
    (step,) = plan_for(tmp_path / "one", sheets(FAR), "uv-into-square").steps
    result = fixed(tmp_path / "other", sheets(SHEET), "uv-into-square", step.parameters)
    numbers = [float(str(step.parameters[key])) for key in ("scale_u", "scale_v", "shift_u", "shift_v")]
    expected = SHEET.uvs * numbers[:2] + numbers[2:]
    assert uvs_of(result.after["manta.0001.obj"]) == pytest.approx(expected, abs=1e-6)


def test_smaller_uvs_get_more_digits(tmp_path: Path) -> None:
    result = fixed(tmp_path, sheets(SHEET), "uv-into-square", {"scale_u": 0.001, "scale_v": 0.001})
    assert uvs_of(result.after["manta.0001.obj"]) == pytest.approx(SHEET.uvs / 1000, abs=1e-9)


def two_materials() -> dict[str, bytes]:
    lines = remapped(SHEET, lambda u, v: (np.where(v > 0.5, u / 3.0, u), v)).text().split(b"\n")
    faces = [at for at, line in enumerate(lines) if line.startswith(b"f ")]
    lines.insert(faces[len(faces) // 2], b"usemtl belly")
    return {name: b"\n".join(lines) if name.endswith(".obj") else data for name, data in sheets(SHEET).items()}


@pytest.mark.parametrize(
    ("mesh", "parameters", "reason"),
    [
        (SHEET, {"aspect": 16 / 9}, "are already as large as the unit square allows"),
        (SHEET, {"aspect": "0"}, "above 0"),
        (SHEET, {"aspect": "wide"}, "is not a number"),
        (SHEET, {"scale_u": -1}, "must be above 0"),
        (SHEET.edit(uvs=SHEET.uvs * [1, 0]), {}, "have zero area"),
    ],
)
def test_refusals(tmp_path: Path, mesh: Mesh, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, sheets(mesh), "uv-into-square", parameters)


def test_materials_that_want_different_aspects_are_not_served_by_one_change(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="different aspect ratios"):
        plan_for(tmp_path, two_materials(), "uv-into-square")


def test_a_turn_would_undo_the_proportion_and_is_a_run_of_its_own(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, sheets(FAR))
    with pytest.raises(Refusal, match="uv-turn"):
        make_plan(inspection, [Choice("uv-into-square"), Choice("uv-turn", {"degrees": 90})])
    both = make_plan(inspection, [Choice("uv-mirror", {"axis": "u"}), Choice("uv-into-square")])
    assert [step.fix for step in both.steps] == ["uv-into-square", "uv-mirror"]
