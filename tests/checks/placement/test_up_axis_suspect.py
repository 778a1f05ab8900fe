"""Tests of `up-axis-suspect`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from inspector.inspection.inspection import Inspection
from tests.helpers.broken.placement import frond, laid_down
from tests.helpers.meshes import Mesh, plain, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Heard, finding_of, frames, heard, look, look_at_all, shot
from tests.helpers.surfaces import EVERY, NUMBERS, lit, ring, sequence


def loud(inspection: Inspection) -> list[Heard]:
    """Return the findings, without notes. In these tests, `uv-turned` adds a note that lettering is rotated."""
    return [one for one in heard(inspection) if one[1] != "note"]


@pytest.mark.parametrize("numbers", [[5], [6, 7], [8, 9, 10, 11, 12], [1], [1, 2]])
def test_some_frames(numbers: list[int], tmp_path: Path) -> None:
    _, inspection = broken(
        tmp_path,
        "up-axis-suspect",
        shot(dict.fromkeys(numbers, laid_down)),
        companions={"uv-turned": "the reference is a frame that lies, and lettering on it too"} if 1 in numbers else {},
    )
    assert loud(inspection) == [("up-axis-suspect", "error", [float(number) for number in numbers])]
    finding = finding_of(inspection, "up-axis-suspect")
    assert (finding.numbers["kind"], finding.fixes) == ("frames", ())


@pytest.mark.parametrize("forward", [True, False])
def test_a_frame_amid_fast_motion(forward: bool, tmp_path: Path) -> None:
    """The ring turns by 2 degrees per frame before frame 7 and by 15 degrees per frame after it, or the reverse. The
    movement must be within TURN_MISS on at least one side of frame 7."""

    def turning(number: int) -> Mesh:
        at = number if forward else 14 - number
        angle = np.radians(2.0 * min(at, 7) + 15.0 * max(0, at - 7))
        mesh, (c, s) = ring(0, 12, 6), (np.cos(angle), np.sin(angle))
        stretched = mesh.positions * [1.5, 1.0, 1.0]
        return mesh.edit(positions=stretched @ np.array([[c, 0, -s], [0, 1, 0], [s, 0, c]]))

    numbers = range(1, 14)
    files = MATERIALS | frames({n: laid_down(turning(n)) if n == 7 else turning(n) for n in numbers})
    said = {(check, tuple(at)) for check, _, at in heard(look(tmp_path, files)) if check == "up-axis-suspect"}
    assert said == {("up-axis-suspect", (7.0,))}


def test_with_normals(tmp_path: Path) -> None:
    assert heard(look(tmp_path, sequence(lit, {7: laid_down}))) == [("up-axis-suspect", "error", [7.0])]


@pytest.mark.parametrize("order", ["ab", "ba"])
def test_of_two_sequences_of_one_model_the_later(order: str, tmp_path: Path) -> None:
    """If two sequences disagree, it is unknown which of them is wrong."""
    files = MATERIALS | frames({n: wing(n) for n in NUMBERS}, stem=f"manta_{order[0]}.")
    files |= frames({n: laid_down(wing(n + 3)) for n in NUMBERS}, stem=f"manta_{order[1]}.")
    one, other = look_at_all(tmp_path, files).inspections
    assert loud(one) == []
    assert loud(other) == [("up-axis-suspect", "warning", EVERY)]
    assert finding_of(other, "up-axis-suspect").fixes == ("up-axis",)


def test_of_three_sequences_the_odd_one(tmp_path: Path) -> None:
    files = MATERIALS | frames({n: laid_down(wing(n)) for n in NUMBERS}, stem="manta_a.")
    files |= frames({n: wing(n + 2) for n in NUMBERS}, stem="manta_b.")
    files |= frames({n: wing(n + 4) for n in NUMBERS}, stem="manta_c.")
    odd, *others = look_at_all(tmp_path, files).inspections
    assert loud(odd) == [("up-axis-suspect", "warning", EVERY)]
    assert [loud(one) for one in others] == [[], []]


@pytest.mark.parametrize(("miss", "turned"), [(0.24, True), (0.26, False)])
def test_how_far_the_pose_of_a_turned_twin_may_differ(miss: float, turned: bool, tmp_path: Path) -> None:
    """The points are off in alternating directions, so that their mean does not change. The limit is 0.25 of their root
    mean square distance from the mean (TURN_MISS_TWINS)."""
    points = np.array([[0.0, 0, 0], [3, 1, 0], [0, 2, 1], [1, 5, 2]])
    off = miss * np.sqrt(np.square(points - points.mean(axis=0)).sum() / 4) * np.array([[1.0], [-1.0], [1.0], [-1.0]])
    posed = points + off * [1.0, 0.0, 0.0]
    files = frames({n: plain(points + 0.1 * n, [range(4)]) for n in NUMBERS}, stem="manta_a.")
    files |= frames({n: laid_down(plain(posed + 0.1 * n, [range(4)])) for n in NUMBERS}, stem="manta_b.")
    _, later = look_at_all(tmp_path, files).inspections
    assert (("up-axis-suspect", "warning", EVERY) in heard(later)) is turned


def test_what_stands_along_z(tmp_path: Path) -> None:
    said = heard(look(tmp_path / "y", sequence(frond)))
    assert "up-axis-suspect" not in {check for check, _, _ in said}
    inspection = look(tmp_path / "z", sequence(lambda n: laid_down(frond(n))))
    assert ("up-axis-suspect", "note", EVERY) in heard(inspection)
    finding = finding_of(inspection, "up-axis-suspect")
    assert (finding.numbers["kind"], finding.fixes) == ("stance", ("up-axis",))


def spinning(number: int) -> Mesh:
    mesh = wing(0)
    for _ in range(number % 4):
        mesh = laid_down(mesh)
    return mesh


def tumbling(number: int) -> Mesh:
    mesh, angle = wing(0), np.pi / 2 * np.clip((number - 3) / 6, 0, 1)
    turn = np.array([[1, 0, 0], [0, np.cos(angle), -np.sin(angle)], [0, np.sin(angle), np.cos(angle)]])
    return mesh.edit(positions=mesh.positions @ turn.T)


@pytest.mark.parametrize("motion", [spinning, tumbling, ring])
def test_healthy_turns(motion: Callable[[int], Mesh], tmp_path: Path) -> None:
    assert "up-axis-suspect" not in {check for check, _, _ in heard(look(tmp_path, sequence(motion)))}


def post(width: float, high: float, low: float = 0.0, aside: float = 0.0) -> Mesh:
    """Return a box, `width` wide and deep, and `high` tall. `low` is the height of its base above the ground, and
    `aside` is its distance from the origin along x."""
    corners = np.array([[x, y, z] for z in (0, 1) for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))], float)
    placed = (corners - [0.5, 0.5, 0.0]) * [width, width, high] + [aside, 0.0, low]
    return plain(placed, [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)])


@pytest.mark.parametrize(
    ("mesh", "stands"),
    [
        (post(1.0, 0.7), False),  # RISES: 0.75 of its width
        (post(1.0, 0.8), True),
        (post(1.0, 1.0, low=0.0095 * 3**0.5), True),  # GROUND: 0.01 of its diagonal
        (post(1.0, 1.0, low=0.0105 * 3**0.5), False),
        (post(1.0, 1.0, aside=0.24), True),  # STANDS_OVER: half of half its width
        (post(1.0, 1.0, aside=0.26), False),
    ],
)
def test_what_counts_as_standing_along_z(mesh: Mesh, stands: bool, tmp_path: Path) -> None:
    said = heard(look(tmp_path, frames(dict.fromkeys(NUMBERS, mesh))))
    assert (("up-axis-suspect", "note", EVERY) in said) is stands


def test_as_many_points_as_show_a_turn(tmp_path: Path) -> None:
    for count, found in ((3, False), (4, True)):
        points = np.array([[0.0, 0, 0], [3, 1, 0], [0, 2, 1], [1, 5, 2]])[:count]
        meshes = {n: plain(points + np.array([0.1 * n, 0.0, 0.0]), [range(count)]) for n in NUMBERS}
        said = heard(look(tmp_path / str(count), frames(meshes | {7: laid_down(meshes[7])})))
        assert ("up-axis-suspect" in {check for check, _, _ in said}) is found
