"""Tests of `loop`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.motion import SIXTEENTH, circle
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Files, along_x, finding_of, heard, look


@pytest.mark.parametrize(
    ("turns", "kind", "fixes"),
    [
        (range(16), "closed", ()),
        (range(17), "doubled", ("trim-loop",)),
        (range(15), "open", ()),
        ([n % 16 for n in range(32)], "rounds", ("trim-loop",)),
        ([n % 16 for n in range(33)], "rounds", ("trim-loop",)),
        ([0, 0, 0, *range(17), 0, 0], "rounds", ("trim-loop",)),
        ([0, 0, *range(17)], "doubled", ("trim-loop",)),
    ],
)
def test_it_comes_round(turns: Sequence[float], kind: str, fixes: tuple[str, ...], tmp_path: Path) -> None:
    held = {"frozen": "the pose that is held is noted"} if list(turns[:2]) == [0, 0] else {}
    said, inspection = broken(tmp_path, "loop", circle(turns), companions=held)
    assert ("loop", "note", [0.0, len(turns) - 1.0]) in said
    assert {severity for _, severity, _ in said} == {"note"}
    finding = finding_of(inspection, "loop")
    assert (finding.numbers["kind"], finding.fixes) == (kind, fixes)


def test_by_how_much_it_is_off(tmp_path: Path) -> None:
    """The expected distances are chords of a circle: 2 r sin(angle / 2)."""
    finding = finding_of(look(tmp_path, circle(range(15))), "loop")
    assert finding.numbers["seam"] == pytest.approx(18 * np.sin(SIXTEENTH), rel=1e-5)
    assert finding.numbers["step"] == pytest.approx(18 * np.sin(SIXTEENTH / 2), rel=1e-5)


@pytest.mark.parametrize(
    "places",
    [range(16), [0.0] * 9, [*range(8), *range(8)], [0, 5, 1, 6, 2, 7, 3], [*[0] * 4, *range(10)]],
    ids=["straight on", "still", "once more", "to and fro on the way", "held, then off"],
)
def test_no_loop(places: Sequence[float], tmp_path: Path) -> None:
    said = heard(look(tmp_path, along_x(map(float, places))))
    assert "loop" not in {check for check, _, _ in said}


@pytest.mark.parametrize(("around", "comes_round"), [(8, True), (7, False)])
def test_how_far_a_motion_that_comes_round_once_was_away(around: int, comes_round: bool, tmp_path: Path) -> None:
    """The limit is 2.5 steps (LOOP_AWAY). The longest chord of a regular octagon is 2.6 sides long, and that of a
    heptagon is 2.2 sides long (chord: 2 r sin(angle / 2))."""
    said = heard(look(tmp_path, circle([16 * n / around for n in range(around)])))
    assert ("loop" in {check for check, _, _ in said}) == comes_round


def test_a_round_of_long_steps_that_is_repeated(tmp_path: Path) -> None:
    """A motion around a hexagon is never more than two steps away from its start. The motion still counts as a loop if
    it is repeated. The last frame may differ from the repeated motion, because the last frame may start another
    motion."""
    turns = [16 * (n % 6) / 6 for n in range(12)]
    finding = finding_of(look(tmp_path / "even", circle(turns)), "loop")
    assert (finding.numbers["kind"], finding.message) == ("rounds", "the motion repeats every 6 frames")
    finding = finding_of(look(tmp_path / "off", circle([*turns[:-1], 16 * 4.5 / 6])), "loop")
    assert (finding.severity.word, finding.message) == ("note", "the motion repeats every 6 frames, except on frame 11")


def test_not_judged_where_frames_are_missing(tmp_path: Path) -> None:
    files = circle(range(17))
    del files["manta.0004.obj"]
    assert "loop" in dict(look(tmp_path, files).verdict.skipped)


def rounds(count: int, off: float = 0.0, at: int = 20) -> Files:
    """Return `count` rounds of a circle. Frame `at` is off by `off` steps along the circle."""
    turns = [float(n % 16) for n in range(16 * count)]
    turns[at] += off
    return circle(turns)


@pytest.mark.parametrize(("off", "kind"), [(0.04, ["rounds"]), (0.06, ["odd", "rounds"]), (0.1, ["odd", "rounds"])])
def test_a_frame_out_of_step(off: float, kind: list[str], tmp_path: Path) -> None:
    """A frame that is off by more than 0.05 steps counts as different (LOOP_SAME)."""
    said = look(tmp_path, rounds(3, off)).findings
    assert {one.check for one in said} == {"loop"}
    assert sorted(str(one.numbers["kind"]) for one in said) == kind
    assert all(one.numbers["round"] == 16 for one in said)
    for one in said:
        if one.numbers["kind"] == "odd":
            assert [float(number) for number in one.frames] == [20.0]


@pytest.mark.parametrize("off", [0.3, 0.8])
def test_a_frame_off_the_path_of_its_round_is_said_once(off: float, tmp_path: Path) -> None:
    """The frame differs from the corresponding frames of the other rounds, and is off the curve through its
    neighbours."""
    said = heard(look(tmp_path, rounds(3, off)))
    assert said == [("centre-jump", "warning", [20.0]), ("loop", "note", [0.0, 47.0])]


@pytest.mark.parametrize(("off", "kind"), [(0.04, "doubled"), (0.06, "closed")])
def test_a_last_frame_that_is_the_first_again(off: float, kind: str, tmp_path: Path) -> None:
    finding = finding_of(look(tmp_path, circle([*map(float, range(16)), off])), "loop")
    assert finding.numbers["kind"] == kind


@pytest.mark.parametrize(("count", "comes_round"), [(30, True), (29, False)])
def test_how_wide_the_seam_of_a_loop_may_be(count: int, comes_round: bool, tmp_path: Path) -> None:
    """Without three or four of a circle's 32 steps, the seam is 2.96 or 3.9 steps long (chord: 2 r sin(angle / 2)). The
    limit is 3 steps (LOOP_SEAM)."""
    said = heard(look(tmp_path, circle([n / 2 for n in range(count)])))
    assert ("loop" in {check for check, _, _ in said}) is comes_round


@pytest.mark.parametrize(("odd", "comes_round"), [((36, 39, 42), True), ((34, 37, 40, 43), False)])
def test_how_many_frames_may_break_a_cycle(odd: tuple[int, ...], comes_round: bool, tmp_path: Path) -> None:
    """At most a tenth of the 32 frames after the first cycle, that is, at most 3 frames, may be off (LOOP_ODD)."""
    turns = [n % 16 + 0.3 * (n in odd) for n in range(48)]
    said = [one for one in look(tmp_path, circle(turns)).findings if one.check == "loop"]
    assert ("rounds" in {one.numbers["kind"] for one in said}) is comes_round
