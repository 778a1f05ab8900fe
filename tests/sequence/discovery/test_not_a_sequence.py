"""Tests of numbered files that are not a sequence. Numbered shards and numbered parts of bodies were seen in public
data."""

from __future__ import annotations

from dataclasses import replace

import pytest

from inspector.sequence.discovery.not_a_sequence import why_no_sequence
from inspector.sequence.measure.facts import FrameFacts
from tests.helpers.facts import GOOD, UNREADABLE


def box(at: float, size: float) -> tuple[float, float, float, float, float, float]:
    return (at, 0.0, 0.0, at + size, size, size)


def facts(count: int, *, place: float, size: float, vertices: int) -> list[FrameFacts]:
    return [
        replace(
            GOOD,
            box=box(number * place, size if number % 2 else 1.0),
            vertices=4 + vertices * number,
            topology=b"t%d" % (vertices * number),
        )
        for number in range(count)
    ]


def test_parts_differ_in_everything() -> None:
    assert why_no_sequence(facts(8, place=3, size=2, vertices=1)) is not None


@pytest.mark.parametrize(
    ("place", "size", "vertices"),
    [(3, 2, 0), (3, 1, 1), (0.1, 1.3, 1), (50, 1, 0), (0, 1, 1), (0, 1, 0)],
    ids=[
        "one mesh that moves and grows",
        "a fluid that moves",
        "a fluid that grows in place",
        "fast",
        "remeshed",
        "still",
    ],
)
def test_frames_share_something(place: float, size: float, vertices: int) -> None:
    assert why_no_sequence(facts(8, place=place, size=size, vertices=vertices)) is None


def test_two_parts_that_are_alike_do_not_make_the_rest_a_sequence() -> None:
    parts = facts(8, place=3, size=2, vertices=1)
    assert why_no_sequence([*parts, parts[-1]]) is not None


def test_one_odd_frame_does_not_make_parts_of_a_sequence() -> None:
    frames = facts(8, place=0.1, size=1, vertices=0)
    frames[3] = replace(frames[3], vertices=99, topology=b"odd", box=box(70, 5))
    assert why_no_sequence(frames) is None


def test_nothing_to_compare() -> None:
    assert why_no_sequence([]) is None
    assert why_no_sequence([GOOD]) is None
    assert why_no_sequence([UNREADABLE, UNREADABLE]) is None


def test_flat_boxes_overlap_by_their_area() -> None:
    """The bounding box of a flat sheet has no volume, but two such boxes can still be at the same position."""
    sheet = [
        replace(GOOD, box=(0.01 * n, 0, 0, 4.0 * (1 + 0.2 * (n % 2)), 0, 3), vertices=n, topology=b"%d" % n)
        for n in range(6)
    ]
    assert why_no_sequence(sheet) is None


@pytest.mark.parametrize(("side", "reason"), [(1.2, None), (1.4, "parts")])
def test_parts_in_one_place_have_other_proportions(side: float, reason: str | None) -> None:
    parts = [
        replace(GOOD, box=(0, 0, 0, 4.0 * (side if n % 2 else 1.0), 2, 2), vertices=9 + n, topology=b"%d" % n)
        for n in range(8)
    ]
    assert (reason in (why_no_sequence(parts) or "")) if reason else why_no_sequence(parts) is None


def test_what_spreads_in_one_direction_is_a_motion() -> None:
    spilled = [replace(GOOD, box=(0, 0, 0, 4.0 * 1.3**n, 2, 2), vertices=9 + n, topology=b"%d" % n) for n in range(8)]
    assert why_no_sequence(spilled) is None


@pytest.mark.parametrize(("ratio", "found"), [(1.2, False), (1.3, True)])
def test_levels_of_detail(ratio: float, found: bool) -> None:
    levels = [
        replace(GOOD, box=(0, 0, 0, 4, 2, 2), vertices=int(9000 / ratio**n), topology=b"%d" % n) for n in range(5)
    ]
    assert ("levels of detail" in (why_no_sequence(levels) or "")) is found


def test_left_and_right_parts_are_twins() -> None:
    parts = []
    for n in range(5):
        size = 1.0 + n % 2
        for low in (1.0, -1.0 - size):
            box = (0.0, 0.0, low, 4.0 - 1.5 * (n % 2), 2.0, low + size)
            parts.append(replace(GOOD, box=box, vertices=9 + n, topology=b"%d%d" % (n, low > 0)))
    assert "parts" in (why_no_sequence(parts) or "")
