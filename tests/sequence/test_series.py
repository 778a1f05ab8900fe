"""Tests of facts over time, and of the choice of the reference frame."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.errors import MeshqcError
from inspector.formats.problems import Place, Problem
from inspector.names import Name
from inspector.sequence.discovery.discover import Sequence
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import Series, build_series, choose_reference, numbering_change
from tests.helpers.facts import GOOD, UNREADABLE, other

BAD = (Problem("bad-number", 1, (Place(1),)),)
UNENDED = (Problem("no-final-newline", 1, (Place(1),)),)


def series(facts: list[FrameFacts], numbers: list[float] | None = None, **settings: object) -> Series:
    values = [Fraction(str(number)) for number in numbers or range(1, len(facts) + 1)]
    numbered = [
        replace(one, number=number, file=replace(one.file, number=number))
        for one, number in zip(facts, values, strict=True)
    ]
    files = tuple(one.file for one in numbered)
    sequence = Sequence(Path("/x"), Name(b"."), Name(b"manta."), Name(b".obj"), 4, files)
    return build_series(sequence, numbered, **settings)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ([GOOD, GOOD], 0),
        ([other(topology=b"odd"), GOOD, GOOD], 1),
        ([UNREADABLE, other(topology=b"odd"), GOOD, GOOD], 2),
        ([other(vertices=5), GOOD, GOOD], 1),
        ([other(uv_indices=b"odd"), GOOD, GOOD], 1),
        ([other(uv_values=b"odd"), GOOD, GOOD], 1),
        ([other(problems=BAD), GOOD, GOOD], 1),
        ([GOOD, other(topology=b"odd")], 0),  # of two groups of equal size, the earlier one
        ([other(topology=b"odd"), GOOD, other(objects=(Name(b"ray"),)), GOOD], 1),
        ([other(topology=bytes([n]), objects=(Name(b"ray"),) if n else ()) for n in range(4)], 1),  # one odd name
        ([other(topology=b"odd"), GOOD, other(uv_values=b"w"), other(uv_values=b"w"), other(topology=b"odd")], 2),
        ([UNREADABLE, UNREADABLE], None),
        ([], None),
    ],
)
def test_the_reference_is_the_earliest_of_the_largest_group(facts: list[FrameFacts], expected: int | None) -> None:
    assert choose_reference(facts) == expected


def test_the_user_may_choose_another() -> None:
    assert series([GOOD, GOOD, GOOD], reference=Fraction(3)).reference_index == 2


@pytest.mark.parametrize("number", [2, 9])
def test_a_chosen_frame_must_be_there_and_readable(number: int) -> None:
    with pytest.raises(MeshqcError, match=f"{number}"):
        series([GOOD, UNREADABLE, GOOD], reference=Fraction(number))


def test_drift_and_size_against_the_reference() -> None:
    """A box of 2 by 3 by 6 has a diagonal of 7 (4 + 9 + 36 = 49)."""
    moved = other(box=(1.0, 0.0, 0.0, 5.0, 6.0, 12.0))
    found = series([GOOD, moved, UNREADABLE])
    assert found.diagonals[:2].tolist() == [7.0, 14.0]
    assert found.drift[1].tolist() == [2.0, 1.5, 3.0]
    assert found.size_ratio[:2].tolist() == [1.0, 2.0]
    assert np.isnan(found.drift[2]).all()
    assert np.isnan(found.size_ratio[2])
    assert found.reference_size == 6.0


def test_without_a_readable_frame_there_is_no_base() -> None:
    found = series([UNREADABLE])
    assert np.isnan(found.reference_size)
    assert not found.usable.any()
    with pytest.raises(MeshqcError, match="no frame can be read"):
        _ = found.reference_facts


def test_a_point_has_no_size_ratio() -> None:
    assert np.isnan(series([other(box=(1.0, 1.0, 1.0) * 2)] * 2).size_ratio).all()


def test_a_step_over_a_gap_or_a_repeat_says_nothing_about_the_pace() -> None:
    moving = other(step=0.5)
    assert np.isnan(series([GOOD, moving, moving, moving, moving], [1, 2, 3, 3, 5]).steps).tolist() == [
        *(True, False, False), *(True, True),
    ]  # fmt: skip


def test_times_count_in_steps_of_the_sequence() -> None:
    assert np.diff(series([GOOD] * 4, [10, 15, 20, 30]).times).tolist() == [1, 1, 2]
    assert np.diff(series([GOOD] * 4, [1, 1.5, 2, 2.5]).times).tolist() == [1, 1, 1]


@pytest.mark.parametrize(
    ("base", "cut", "expected"),
    [
        (GOOD, other(problems=UNENDED, faces=1), True),
        (GOOD, other(problems=UNENDED, vertices=3), True),
        (GOOD, other(problems=UNENDED), False),  # nothing is missing: the last line is complete
        (GOOD, other(faces=1), False),  # ends properly: a different mesh, not a cut
        (other(problems=UNENDED), other(problems=UNENDED, faces=1), False),  # no frame ends with a line ending
    ],
)
def test_a_frame_cut_behind_a_whole_line(base: FrameFacts, cut: FrameFacts, expected: bool) -> None:
    assert series([base, base, cut]).cut_short.tolist() == [False, False, expected]


POINTS, OTHERS = np.random.default_rng(7).normal(size=(2, 40, 3))


def posed(points: Floats, topology: bytes) -> FrameFacts:
    return other(vertices=len(points), topology=topology, sample=points.astype("<f8").tobytes())


def changed_by(change: float) -> Floats:
    low, high = 0.0, 1.0
    while high - low > 1e-6:
        middle = (low + high) / 2.0
        less = numbering_change(POINTS, (1.0 - middle) * POINTS + middle * OTHERS) < change
        low, high = (middle, high) if less else (low, middle)
    return (1.0 - low) * POINTS + low * OTHERS


def test_distances_show_the_numbering_however_the_whole_moves() -> None:
    turned = POINTS @ np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]) + 5.0
    for same in (turned, -POINTS, 2.54 * POINTS):
        assert numbering_change(POINTS, same) < 1e-9
    assert numbering_change(POINTS, np.random.default_rng(1).permutation(POINTS)) > 0.8
    assert np.isnan(numbering_change(POINTS[:1], POINTS[:1]))
    assert not numbering_change(POINTS, np.full_like(POINTS, np.inf)) <= 1.0


@pytest.mark.parametrize(("change", "expected"), [(0.24, True), (0.26, False)])
def test_the_next_pose_is_followed_over_other_faces(change: float, expected: bool) -> None:
    found = series([posed(POINTS, b"one"), posed(changed_by(change), b"two")])
    assert found.followed.tolist() == [True, expected]


@pytest.mark.parametrize(("change", "expected"), [(0.69, True), (0.71, False)])
def test_another_pose_among_followed_ones(change: float, expected: bool) -> None:
    odd = posed(changed_by(change), b"odd")
    assert series([posed(POINTS, b"one"), odd, posed(POINTS, b"two")]).followed.tolist() == [True, expected, True]


def test_an_odd_reference_is_caught_up_with_from_behind() -> None:
    """The frames in the middle differ too much from the reference frame to be followed directly. The last frame is
    similar to the reference frame and to the frames in the middle."""
    odd, near = changed_by(0.3), changed_by(0.2)
    between = [posed(POINTS, topology) for topology in (b"one", b"two", b"three")]
    found = series([posed(odd, b"odd"), *between, posed(near, b"near")], reference=Fraction(1))
    assert found.followed.all()


@pytest.mark.parametrize(("count", "expected"), [(11, False), (12, True)])
def test_from_how_many_vertices(count: int, expected: bool) -> None:
    found = series([posed(POINTS[:count], b"one"), posed(POINTS[:count], b"two")])
    assert found.followed.tolist() == [True, expected]


@pytest.mark.parametrize("most", [True, False])
def test_other_faces_are_a_fault_where_most_frames_have_the_same(most: bool) -> None:
    same = [posed(POINTS, b"same")] * (3 if most else 2)
    assert series([*same, posed(POINTS, b"one"), posed(POINTS, b"two")]).followed.sum() == (3 if most else 4)
