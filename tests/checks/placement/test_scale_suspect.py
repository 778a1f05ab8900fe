"""Tests of `scale-suspect`.

Sources: SI prefixes (BIPM, SI brochure, 9th edition, table 7); the international yard and pound agreement of 1959 (an
inch is 2.54 cm, a foot is 30.48 cm).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, frames, heard, look, look_at_all, shot

ALL = [float(number) for number in range(1, 13)]
SIZE = 4.0  # the wing's span, the longest side of its box, scene units


def times(factor: float, mesh: Mesh) -> Mesh:
    return mesh.edit(positions=mesh.positions * factor)


def scaled_shot(factor: float) -> dict[str, bytes]:
    return MATERIALS | frames({number: times(factor, wing(number)) for number in range(1, 13)})


@pytest.mark.parametrize("factor", [10, 100, 1000, 2.54, 25.4, 30.48, 39.37, 0.1, 0.01, 0.001, 1 / 2.54, 1 / 39.37])
@pytest.mark.parametrize("roughly", [0.95, 1.0, 1.05])
def test_against_a_stated_size(factor: float, roughly: float, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "scale-suspect", scaled_shot(factor), size=SIZE * roughly)
    assert said == [("scale-suspect", "error", ALL)]
    assert finding_of(inspection, "scale-suspect").numbers["factor"] == pytest.approx(factor)


@pytest.mark.parametrize(
    ("factor", "said"),
    [
        (0.01, "units long, 1/100 of the stated size of {}; this is the factor"),
        (100, "units long, 100 times the stated size of {}; this is the factor"),
        (0.3, "units long, 1/3."),
    ],
)
def test_the_sentence_can_be_read_on_either_side(factor: float, said: str, tmp_path: Path) -> None:
    """A small factor is written as a fraction, and a large factor as a number (common usage, no source)."""
    _, inspection = broken(tmp_path, "scale-suspect", scaled_shot(factor), size=SIZE)
    assert said.format(f"{SIZE:g}") in finding_of(inspection, "scale-suspect").message


def test_frames_in_another_unit_than_the_reference_frame_are_not_named(tmp_path: Path) -> None:
    files = shot({number: lambda mesh: times(100, mesh) for number in (1, 2, 3)})
    inspection = look(tmp_path, files, size=SIZE)
    assert heard(inspection) == [("scale-suspect", "error", [1.0, 2.0, 3.0]), ("size-jump", "error", [4.0])]
    finding = finding_of(inspection, "scale-suspect")
    assert finding.message.endswith("; frames 4-12 are in a different unit")
    assert finding.fixes == (), "one scale for all frames would make frames 4-12 wrong"


@pytest.mark.parametrize("factor", [0.9, 1.0, 1.1])
def test_a_size_about_as_stated(factor: float, tmp_path: Path) -> None:
    assert heard(look(tmp_path, scaled_shot(factor), size=SIZE)) == []


@pytest.mark.parametrize("factor", [1.7, 3.2, 5.0, 0.3])
def test_another_size_that_lies_between_no_units_is_a_note(factor: float, tmp_path: Path) -> None:
    assert heard(look(tmp_path, scaled_shot(factor), size=SIZE)) == [("scale-suspect", "note", ALL)]


def test_without_a_stated_size_and_without_a_twin_it_is_skipped(tmp_path: Path) -> None:
    assert "scale-suspect" in dict(look(tmp_path, shot()).verdict.skipped)


def test_against_other_sequences_of_the_same_model(tmp_path: Path) -> None:
    files = dict(MATERIALS)
    for stem, factor in (("ray_a.", 1), ("ray_b.", 100), ("ray_c.", 1)):
        files |= frames({number: times(factor, wing(number)) for number in range(1, 5)}, stem)
    said = {one.sequence.name.display: heard(one) for one in look_at_all(tmp_path, files).inspections}
    assert said == {"ray_a": [], "ray_b": [("scale-suspect", "warning", [1.0, 2.0, 3.0, 4.0])], "ray_c": []}


@pytest.mark.parametrize(("factor", "found"), [(104, True), (106, False), (96, True), (94, False)])
def test_how_closely_a_twin_must_fit(factor: float, found: bool, tmp_path: Path) -> None:
    files = dict(MATERIALS)
    for stem, of_stem in (("ray_a.", 1), ("ray_b.", factor)):
        files |= frames({number: times(of_stem, wing(number)) for number in range(1, 4)}, stem)
    said = {one.sequence.name.display: heard(one) for one in look_at_all(tmp_path, files).inspections}
    assert said["ray_b"] == [("scale-suspect", "warning", [1.0, 2.0, 3.0])] * found


def test_another_model_is_no_twin(tmp_path: Path) -> None:
    files = shot() | frames(
        {n: times(100, wing(n).edit(faces=(*wing(n).faces[:5], *wing(n).faces[6:]))) for n in range(1, 5)}, "kelp."
    )
    for inspection in look_at_all(tmp_path, files).inspections:
        assert heard(inspection) == []
