"""Tests of `centre-jump` and `size-jump`."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.finding import Severity
from inspector.checks.motion.size_jump import most_change
from tests.helpers.bodies import BODIES, written
from tests.helpers.broken.motion import DIAGONAL, Edit, aside, drifting, scaled
from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, frames, heard, look, move, shot
from tests.helpers.verdicts import errors_and_warnings

LONG = range(1, 41)
AWAY = np.array([0.6, 0.0, 0.8])


def long(edits: dict[int, Edit]) -> dict[str, bytes]:
    return shot(edits, numbers=LONG)


@pytest.mark.parametrize("number", [2, 5, 11])
def test_one_frame_aside(number: int, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "centre-jump", shot({number: aside}))
    assert said == [("centre-jump", "warning", [float(number)])]
    finding = finding_of(inspection, "centre-jump")
    assert finding.numbers["kind"] == "outlier"
    assert finding.numbers["distance"] == pytest.approx(3.0, abs=0.1)
    assert finding.fixes == ("align-outlier",)


def test_a_run_of_frames_aside(tmp_path: Path) -> None:
    assert heard(look(tmp_path, long(dict.fromkeys(range(20, 26), aside)))) == [
        ("centre-jump", "warning", [20.0, 21.0, 22.0, 23.0, 24.0, 25.0])
    ]


def test_a_jump_that_stays(tmp_path: Path) -> None:
    inspection = look(tmp_path, long(dict.fromkeys(range(20, 41), aside)))
    assert heard(inspection) == [("centre-jump", "warning", [20.0])]
    finding = finding_of(inspection, "centre-jump")
    assert (finding.numbers["kind"], finding.fixes) == ("break", ())


def test_two_frames_near_each_other(tmp_path: Path) -> None:
    assert heard(look(tmp_path, long({20: aside, 24: aside}))) == [("centre-jump", "warning", [20.0, 24.0])]


def test_a_frame_aside_of_an_object_that_stands_still(tmp_path: Path) -> None:
    meshes = {number: wing(0) for number in LONG} | {20: aside(wing(0))}
    said = heard(look(tmp_path, MATERIALS | frames(meshes)))
    assert ("centre-jump", "warning", [20.0]) in said
    assert [severity for _, severity, _ in said].count("warning") == 1


@pytest.mark.parametrize("factor", [1.5, 0.5, 100, 0.01])
def test_one_frame_of_another_size(factor: float, tmp_path: Path) -> None:
    """No real motion changes the size by a factor of 100 in a single frame."""
    said, inspection = broken(tmp_path, "size-jump", shot({5: scaled(factor)}))
    assert said == [("size-jump", "warning" if factor in (1.5, 0.5) else "error", [5.0])]
    assert finding_of(inspection, "size-jump").numbers["ratio"] == pytest.approx(factor, rel=0.02)


def test_a_frame_scaled_about_the_origin_is_one_cause(tmp_path: Path) -> None:
    """Scaling about the origin also moves the centre, but only `size-jump` reports the frame."""
    said, _ = broken(tmp_path, "size-jump", shot({5: scaled(10, (0, 0, -9))}))
    assert said == [("size-jump", "error", [5.0])]


def test_a_factor_between_units_on_a_part_is_a_warning(tmp_path: Path) -> None:
    def part(mesh: Mesh) -> Mesh:
        larger = np.where(np.arange(len(mesh.positions)) % 3 == 0, 100.0, 1.0)
        return mesh.edit(positions=mesh.positions * larger[:, np.newaxis])

    assert "error" not in {severity for _, severity, _ in heard(look(tmp_path, long({20: part})))}


@pytest.mark.parametrize(("factor", "found"), [(1.048, False), (1.052, True), (1 / 1.052, True), (1 / 1.048, False)])
def test_one_frame_slightly_scaled(factor: float, found: bool, tmp_path: Path) -> None:
    """The size is measured by those distances between vertices that flapping doesn't change. The limit is 1.05
    (SCALED)."""
    said = [one for one in heard(look(tmp_path, long({20: scaled(factor)}))) if one[1] != "note"]
    assert said == ([("size-jump", "warning", [20.0])] if found else [])


def one_sided(share: float) -> Edit:
    """Return an edit that enlarges one side of the wing more than the other.

    Size is measured by the distances within the wing's five columns. Before the edit, these distances are equal.
    Afterwards, the distances in the second and the fourth column are the quartiles. `share` is the difference between
    the changes in the two quartiles, divided by the mean change.
    """

    def edit(mesh: Mesh) -> Mesh:
        middle = (mesh.positions.min(axis=0) + mesh.positions.max(axis=0)) / 2
        larger = 1.12 ** (1.0 + share * (mesh.positions[:, :1] - middle[0]) / 2.0)
        return mesh.edit(positions=middle + larger * (mesh.positions - middle))

    return edit


@pytest.mark.parametrize(("share", "found"), [(0.0, True), (0.29, True), (-0.29, True), (0.31, False), (-0.31, False)])
def test_what_grows_on_one_side_is_not_scaled(share: float, found: bool, tmp_path: Path) -> None:
    """The changes in the two quartiles may differ by up to 0.3 of their mean (SCALED_ALIKE)."""
    said = {one[0] for one in heard(look(tmp_path, long({20: one_sided(share)}))) if one[1] != "note"}
    assert ("size-jump" in said) == found


@pytest.mark.parametrize(("share", "found"), [(0.49, False), (0.51, True)])
@pytest.mark.parametrize("mean", [0.1, -0.1])
def test_how_many_distances_change(mean: float, share: float, found: bool) -> None:
    """Four of thirteen distances change by only `share` times `mean`. The lower quartile of the changes is the fourth
    smallest change. It must be at least half of `mean` (SCALED_MOST)."""
    around = np.log(np.tile(np.linspace(1.0, 2.0, 13), (5, 1)))
    around[2] += mean * np.where(np.arange(13) % 4 == 0, share, 1.0)
    assert most_change(around, mean) == found


def test_a_displaced_part_is_not_scaled() -> None:
    """If a part is displaced by a tenth of the diagonal, both quartiles of the distances increase by nearly the same
    factor, as if the whole object were scaled."""
    take = next(body for body in BODIES if body.name == "rigid").film(1, 1)
    meshes = [take.at(float(time)) for time in range(take.frames)]
    positions = meshes[7].positions.copy()
    away = np.linalg.norm(positions - positions[98], axis=1)
    positions[away <= np.quantile(away, 1 / 3)] += 0.1 * np.linalg.norm(np.ptp(positions, axis=0)) * AWAY
    meshes[7] = meshes[7].edit(positions=positions)
    assert [(one.check, set(one.frames)) for one in errors_and_warnings(written(take, meshes))] == [("pop", {8.0})]


def test_one_frame_scaled_beside_a_frame_that_is_a_point(tmp_path: Path) -> None:
    """On the first frame, all distances are zero, so the ratio of sizes is unknown."""
    meshes = {
        number: wing(number).edit(positions=(number - 1) / 30 * wing(number).positions) for number in range(1, 31)
    }
    said = heard(look(tmp_path, MATERIALS | frames(meshes | {20: scaled(1.2)(meshes[20])})))
    assert ("size-jump", "warning", [20.0]) in said


def test_a_factor_between_units_is_named(tmp_path: Path) -> None:
    finding = finding_of(look(tmp_path, long({20: scaled(2.54)})), "size-jump")
    assert "inches and centimetres" in finding.message
    assert finding.severity is Severity.ERROR
    other = finding_of(look(tmp_path / "other", long({20: scaled(2.8)})), "size-jump")
    assert "between" not in other.message
    assert other.severity is Severity.WARNING


def test_a_size_that_stays(tmp_path: Path) -> None:
    inspection = look(tmp_path, long(dict.fromkeys(range(20, 41), scaled(2.54, (0, 0, 0)))))
    assert heard(inspection) == [("size-jump", "error", [20.0])]
    assert finding_of(inspection, "size-jump").numbers["kind"] == "break"


@pytest.mark.parametrize(("off", "severity"), [(1.02, "error"), (1.045, "warning")])
def test_how_closely_a_size_that_stays_must_fit_a_change_of_units(off: float, severity: str, tmp_path: Path) -> None:
    """The ratio of the sizes may differ by up to 3 % from the factor between two units (SAME_FACTOR), because the
    motion also changes the size."""
    inspection = look(tmp_path, long(dict.fromkeys(range(20, 41), scaled(2.54 * off, (0, 0, 0)))))
    assert heard(inspection) == [("size-jump", severity, [20.0])]


def test_a_change_of_units_in_a_fast_motion(tmp_path: Path) -> None:
    def poses(number: int) -> Mesh:
        wide, deep = 1 + 0.02 * np.sin(number), 1 - 0.3 * np.sin(number)
        mesh = wing(number)
        return mesh.edit(positions=mesh.positions * [wide, 1, deep] * (100.0 if number >= 20 else 1.0))

    inspection = look(tmp_path, MATERIALS | frames({number: poses(number) for number in LONG}))
    assert ("size-jump", "error", [20.0]) in heard(inspection)


def test_a_surface_that_only_grows_longer_is_no_change_of_units(tmp_path: Path) -> None:
    def stretched(mesh: Mesh) -> Mesh:
        width, *rest = np.ptp(mesh.positions, axis=0)
        long_side = np.sqrt(100 * (width**2 + np.square(rest).sum()) - np.square(rest).sum())
        return mesh.edit(positions=mesh.positions * [long_side / width, 1, 1])

    inspection = look(tmp_path, long(dict.fromkeys(range(20, 41), stretched)))
    (found,) = [one for one in heard(inspection) if one[0] == "size-jump"]
    assert found[1:] == ("warning", [20.0])


@pytest.mark.parametrize(("factor", "found"), [(1.145, False), (1.155, True), (0.855, False), (0.845, True)])
def test_from_which_ratio_a_size_that_stays_is_a_jump(factor: float, found: bool, tmp_path: Path) -> None:
    """The median size is the size before the change. The limit is 15 % (JUMP_SIZE)."""
    files = move(lambda n: [0, 0, 0.15 * n], LONG, lambda n: scaled(factor if n >= 25 else 1.0)(wing(0)))
    said = [one for one in heard(look(tmp_path, files)) if one[1] != "note"]
    assert said == ([("size-jump", "warning", [25.0])] if found else [])


def test_small_slips_stay_below(tmp_path: Path) -> None:
    def slip(mesh: Mesh) -> Mesh:
        return mesh.edit(positions=mesh.positions + np.array([0.04, 0, 0]))

    assert heard(look(tmp_path, shot({5: slip}))) == []


@pytest.mark.parametrize(
    ("usual", "once", "more"),
    [
        (1e-155, 1e154, 0),
        (1e-156, 9e152, 0),
        (1e-156, 9e152, 1),
        (1e154, 1e-155, 0),
        (1e-200, 1e200, 1),
        (1e200, 1e-200, 1),
    ],
)
def test_ratios_beyond_float64_break_no_check(usual: float, once: float, more: int, tmp_path: Path) -> None:
    """The ratios are too large or too small for float64 (IEEE 754). If every second frame has `more` additional
    vertices, only the bounding boxes can be compared."""
    files = {}
    for number in range(1, 13):
        size = once if number == 6 else usual
        rows = [f"v {x * size:.9e} {y * size:.9e} {z * size:.9e}" for x, y, z in wing(number).positions.tolist()]
        faces = [line for line in wing(number).text().decode().splitlines() if not line.startswith("v ")]
        lines = [*rows, *faces, *["v 0 0 0"] * (more if number % 2 else 0)]
        files[f"manta.{number:04d}.obj"] = ("\n".join(lines) + "\n").encode()
    inspection = look(tmp_path, MATERIALS | files)  # no check may fail
    for finding in inspection.findings:
        assert all(math.isfinite(value) for value in finding.numbers.values() if isinstance(value, float)), finding


@pytest.mark.parametrize(("distance", "both"), [(1.0, False), (2.7, False), (2.8, True), (6.0, True)])
def test_a_frame_that_is_scaled_and_moved(distance: float, both: bool, tmp_path: Path) -> None:
    """Scaling about a pivot at the rim of the wing explains a displacement of half a diagonal, 2.17 units. Up to a
    fifth of the whole displacement may remain unexplained (JUMP_BESIDE), so the limit is 2.17 / 0.8 = 2.71 units."""

    def edit(mesh: Mesh) -> Mesh:
        return scaled(2.0)(mesh).edit(positions=scaled(2.0)(mesh).positions + np.array([distance, 0, 0]))

    said = {one[0] for one in heard(look(tmp_path, long({20: edit}))) if one[1] != "note"}
    assert said == ({"centre-jump", "size-jump"} if both else {"size-jump"})


@pytest.mark.parametrize(("diagonals", "check"), [(0.09, "pop"), (0.11, "centre-jump")])
def test_from_which_distance_a_slip_is_a_jump(diagonals: float, check: str, tmp_path: Path) -> None:
    def slipped(mesh: Mesh) -> Mesh:
        return mesh.edit(positions=mesh.positions + np.array([0.0, diagonals * DIAGONAL, 0.0]))

    said = [one for one in heard(look(tmp_path, drifting({6: slipped}))) if one[1] != "note"]
    assert said == [(check, "warning", [6.0])]


SIZE = float(np.linalg.norm(np.ptp(wing(0.2).positions, axis=0)))


def bouncing(aside: dict[int, float], sideways: float = 0.0) -> dict[str, bytes]:
    """Return a sequence of a wing that bounces.

    `aside` contains displacements along x by frame number, as multiples of the diagonal. `sideways` is an additional
    motion along x, as a multiple of the height of the wing above the ground.
    """
    meshes = {}
    for number in LONG:
        high = 0.2 * (number % 13) * (13 - number % 13)
        place = np.array([SIZE * aside.get(number, 0.0) + sideways * high, high, 0.05 * number])
        meshes[number] = wing(0).edit(positions=wing(0.2).positions + place)
    return MATERIALS | frames(meshes)


@pytest.mark.parametrize(
    ("number", "distance", "check"),
    [
        (20, 0.0, None),
        (20, 0.018, None),
        (20, 0.025, "pop"),
        (20, 0.3, "centre-jump"),
        (40, 0.09, None),
        (40, 0.11, "centre-jump"),
        (1, 0.11, "centre-jump"),
    ],
)
def test_what_bounces_does_not_jump_aside(number: int, distance: float, check: str | None, tmp_path: Path) -> None:
    said = {one[0] for one in heard(look(tmp_path, bouncing({number: distance}))) if one[1] != "note"}
    assert said == ({check} if check else set())


def test_a_jump_like_those_of_the_motion_itself_is_none(tmp_path: Path) -> None:
    said = {one[0] for one in heard(look(tmp_path, bouncing({40: 0.11}, sideways=1.0))) if one[1] != "note"}
    assert said == set()


@pytest.mark.parametrize(("factor", "checks"), [(1.0, set()), (2.54, {"size-jump"})])
def test_a_fast_object_of_another_size_does_not_jump_as_well(factor: float, checks: set[str], tmp_path: Path) -> None:
    """Scaling about the origin also multiplies the position, so the change of size explains the displacement."""
    meshes = {n: wing(0).edit(positions=wing(0.2 * n).positions + np.array([2 * DIAGONAL * n, 0, 0])) for n in LONG}
    meshes[20] = meshes[20].edit(positions=factor * meshes[20].positions)
    said = {one[0] for one in heard(look(tmp_path, MATERIALS | frames(meshes))) if one[1] != "note"}
    assert said == checks


def on_twos(shift: float, number: int = 20, glide: float = 0.0) -> dict[str, bytes]:
    """Return a sequence of a wing that holds each pose for two frames.

    The wing is displaced by `shift` diagonals on frame `number`, and also moves by `glide` units per frame.
    """
    meshes = {}
    for n in LONG:
        moved = np.array([0.0, 0.0, shift * SIZE * (n == number) + glide * n])
        meshes[n] = wing(0).edit(positions=wing(0.2 + 2.0 * (n // 2)).positions + moved)
    return MATERIALS | frames(meshes)


@pytest.mark.parametrize("number", [20, 21])
@pytest.mark.parametrize(("shift", "found"), [(0.018, False), (0.022, True)])
def test_a_held_pose_that_is_shifted(shift: float, found: bool, number: int, tmp_path: Path) -> None:
    said = [one for one in heard(look(tmp_path, on_twos(shift, number))) if one[1] != "note"]
    assert said == ([("pop", "warning", [float(number)])] if found else [])


def test_poses_on_twos_may_glide_on_ones(tmp_path: Path) -> None:
    said = [one for one in heard(look(tmp_path, on_twos(0.0, glide=0.03 * DIAGONAL))) if one[1] != "note"]
    assert said == []
