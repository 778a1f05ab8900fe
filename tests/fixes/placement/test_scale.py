"""Tests of `scale`."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import shot

# BIPM, SI brochure, 9th edition, table 7: centi is 10^-2, so 1 cm is 0.01 m.
CENTI = 0.01


def in_centimetres(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=mesh.positions / CENTI)


EXPORT = shot(dict.fromkeys(range(1, 13), in_centimetres))
METRES = shot()


def positions(data: bytes) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    return np.asarray(read_frame(data).positions)


def test_centimetres_read_as_metres_come_right_and_their_motion_scales(tmp_path: Path) -> None:
    result = fixed(tmp_path, EXPORT, "scale", size=4.0)
    assert result.step.parameters["factor"] == CENTI
    frames = sorted(name for name in result.after if name.endswith(".obj"))
    assert len(frames) == 12
    for name in frames:
        assert np.abs(positions(result.after[name]) - positions(METRES[name])).max() < 1e-6
    # From frame to frame, each vertex moves a hundredth of the distance, unlike with a separate scale for each frame.
    for before, after in pairwise(frames):
        way = positions(result.after[after]) - positions(result.after[before])
        source_way = positions(EXPORT[after]) - positions(EXPORT[before])
        assert np.allclose(way, source_way * CENTI, rtol=0, atol=1e-9)
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["scale-suspect"]


def test_frames_of_different_size_keep_their_proportions(tmp_path: Path) -> None:
    growing = shot(
        {
            number: lambda mesh, grown=1 + number / 40: mesh.edit(positions=mesh.positions * grown)
            for number in range(1, 13)
        }
    )
    result = fixed(tmp_path, growing, "scale", {"size": "1"})
    factors = {
        float(np.ptp(positions(result.after[name])[:, 0]) / np.ptp(positions(growing[name])[:, 0]))
        for name in growing
        if name.endswith(".obj")
    }
    assert max(factors) - min(factors) < 1e-6
    assert max(factors) == pytest.approx(1 / np.ptp(positions(growing["manta.0001.obj"]), axis=0).max(), rel=1e-6)


def test_only_positions_are_touched_and_two_more_decimals_written(tmp_path: Path) -> None:
    result = fixed(tmp_path, EXPORT, "scale", {"factor": "0.01"})
    assert result.changed() == {name for name in EXPORT if name.endswith(".obj")}
    for name in result.changed():
        assert result.touched(name) == {b"v"}
        source, made = (read_frame(files[name]).source_decimals[b"v"] for files in (result.before, result.after))
        assert made <= source + 2
        assert all(len(word.partition(b".")[2]) == 8 for word in result.after[name].split(b"\nv ")[1].split()[:3])


def test_a_plan_for_the_next_export_holds_the_factor(tmp_path: Path) -> None:
    step = plan_for(tmp_path, EXPORT, "scale", {"size": "4"}).steps[0]
    assert step.parameters["factor"] == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("source", "target", "factor"),
    [
        # International yard and pound agreement of 1959: 1 yd is 0.9144 m, so 1 in is 25.4 mm and 1 ft is 0.3048 m.
        ("in", "mm", 25.4),
        ("in", "cm", 2.54),
        ("ft", "m", 0.3048),
        ("yd", "m", 0.9144),
        ("ft", "in", 12.0),
        ("m", "in", 1 / 0.0254),
        # SI brochure, 9th edition, table 7.
        ("cm", "m", 0.01),
        ("mm", "m", 0.001),
        ("m", "cm", 100.0),
        ("km", "m", 1000.0),
        ("dm", "cm", 10.0),
    ],
)
def test_a_pair_of_units_is_one_exact_factor(tmp_path: Path, source: str, target: str, factor: float) -> None:
    step = plan_for(tmp_path, METRES, "scale", {"from": source, "to": target}).steps[0]
    assert step.parameters == {"from": source, "to": target, "factor": factor}


def test_a_pair_of_units_is_applied_as_its_factor(tmp_path: Path) -> None:
    by_units = fixed(tmp_path / "units", EXPORT, "scale", {"from": "cm", "to": "m"})
    by_factor = fixed(tmp_path / "factor", EXPORT, "scale", {"factor": 0.01})
    frames = [name for name in EXPORT if name.endswith(".obj")]
    assert all(by_units.after[name] == by_factor.after[name] for name in frames)


@pytest.mark.parametrize(
    ("parameters", "settings", "reason"),
    [
        ({}, {}, "give the scale, such as `--with scale:factor=0.01`"),
        ({}, {"size": 3.0}, "not off by the factor between two units"),
        ({"factor": "1"}, {}, "changes nothing"),
        ({"factor": "-2"}, {}, "above 0"),
        ({"factor": "much"}, {}, "factor=much is not a number"),
        ({"factor": "nan"}, {}, "is not a number"),
        ({"size": "0"}, {}, "above 0"),
        ({"by": "2"}, {}, "no parameter by; valid parameters: factor, from, to, size"),
        ({"from": "cm"}, {}, "only one of the two units was given; use two of mm, cm"),
        ({"from": "cm", "to": "fathom"}, {}, "to=fathom is not one of mm, cm"),
        ({"from": "cm", "to": "cm"}, {}, "changes nothing"),
    ],
)
def test_refusals(tmp_path: Path, parameters: dict[str, object], settings: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, METRES, "scale", parameters, **settings)


def test_a_unit_that_changes_within_the_sequence_is_refused(tmp_path: Path) -> None:
    """A factor that corrects frames 1 to 3 would spoil the other frames. If the user states a factor, it is applied
    nevertheless."""
    files = shot(dict.fromkeys((1, 2, 3), in_centimetres))
    with pytest.raises(Refusal, match="would give frames 4-12 a wrong size"):
        plan_for(tmp_path / "a", files, "scale", size=4.0)
    assert plan_for(tmp_path / "b", files, "scale", {"factor": "0.01"}, size=4.0).steps


def test_its_frames_cannot_be_chosen(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="whole sequence"):
        plan_for(tmp_path, METRES, "scale", {"factor": "2"}, frames=(3,))


@pytest.mark.parametrize("factor", [1e-30, 1e-12, 1e38])
def test_a_size_that_no_file_can_hold_is_refused(factor: float, tmp_path: Path) -> None:
    """At a factor of 1e-30, every position would be written as 0."""
    with pytest.raises(Refusal, match="outside the range that files can hold"):
        plan_for(tmp_path, shot(), "scale", {"factor": factor})


def test_the_smallest_size_that_a_file_can_hold(tmp_path: Path) -> None:
    assert plan_for(tmp_path, shot(), "scale", {"factor": 1e-10}).steps
