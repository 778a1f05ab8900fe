"""Next and previous problem."""

from __future__ import annotations

from inspector.checks.base.finding import Severity
from inspector.tui.problems import next_stop, stops
from tests.helpers.tui.world import finding, inspected, sequence, view_of

FOUND = [
    finding("uv-mismatch", Severity.ERROR, 3, 4, 5, 9),
    finding("no-uvs", Severity.ERROR, 4),
    finding("frozen", Severity.WARNING, 9),
    finding("uv-values", Severity.NOTE, 2),
]
VIEW = view_of(inspected(sequence(b"manta", range(1, 13)), FOUND))
ALL = list(range(12))


def test_each_cause_stops_once_where_it_begins() -> None:
    assert stops(VIEW, ALL) == [(2, 0), (3, 1), (8, 0), (8, 2)]


def test_stops_follow_the_order_of_the_table() -> None:
    assert stops(VIEW, ALL[::-1]) == [(3, 0), (3, 2), (7, 0), (8, 1)]


def test_what_the_filter_hides_is_no_stop() -> None:
    assert stops(VIEW, [8]) == [(0, 0), (0, 2)]
    assert stops(VIEW, []) == []


def test_there_and_back_again() -> None:
    found = stops(VIEW, ALL)
    here: tuple[int, int | None] = (0, None)
    seen = []
    while (stop := next_stop(found, *here, way=1)) is not None:
        seen.append(stop)
        here = stop
    assert seen == found
    assert next_stop(found, *found[-1], way=-1) == found[-2]
    assert next_stop(found, *found[0], way=-1) is None


def test_a_finding_that_names_no_frame_is_told_at_the_top() -> None:
    view = view_of(inspected(sequence(b"manta", range(1, 13)), [finding("scale-suspect", Severity.WARNING)]))
    assert stops(view, ALL) == [(0, 0)]
