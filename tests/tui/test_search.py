"""Tests of the keys for the next and the previous problem."""

from __future__ import annotations

import pytest

from inspector.checks.base.finding import Severity
from inspector.tui.search import matches, next_stop, problems
from tests.helpers.tui.screens import opened, press, screen_text
from tests.helpers.tui.world import finding, folder, inspected, sequence, view_of

FOUND = [
    finding("uv-mismatch", Severity.ERROR, 3, 4, 5, 9),
    finding("no-uvs", Severity.ERROR, 4),
    finding("frozen", Severity.WARNING, 9),
    finding("uv-values", Severity.NOTE, 2),
]
VIEW = view_of(inspected(sequence(b"manta", range(1, 13)), FOUND))
ALL = list(range(12))


def test_each_cause_stops_once_where_it_begins() -> None:
    assert problems(VIEW, ALL) == [(2, 0), (3, 1), (8, 0), (8, 2)]


def test_stops_follow_the_order_of_the_table() -> None:
    assert problems(VIEW, ALL[::-1]) == [(3, 0), (3, 2), (7, 0), (8, 1)]


def test_what_the_filter_hides_is_no_stop() -> None:
    assert problems(VIEW, [8]) == [(0, 0), (0, 2)]
    assert problems(VIEW, []) == []


def test_there_and_back_again() -> None:
    found = problems(VIEW, ALL)
    here: tuple[int, int | None] = (0, None)
    seen = []
    while (stop := next_stop(found, *here, step=1)) is not None:
        seen.append(stop)
        here = stop
    assert seen == found
    assert next_stop(found, *found[-1], step=-1) == found[-2]
    assert next_stop(found, *found[0], step=-1) is None


def test_a_finding_that_names_no_frame_is_told_at_the_top() -> None:
    view = view_of(inspected(sequence(b"manta", range(1, 13)), [finding("scale-suspect", Severity.WARNING)]))
    assert problems(view, ALL) == [(0, 0)]


def test_a_search_finds_findings_by_title_and_message_and_frames_by_file_and_material() -> None:
    assert matches(VIEW, ALL, "UV index") == [(2, 0), (8, 0)]
    assert matches(VIEW, ALL, "a finding of no-UVs") == [(3, 1)]
    assert matches(VIEW, ALL, "manta.0005") == [(4, -1)]
    assert len(matches(VIEW, ALL, "SKIN")) == 12
    assert matches(VIEW, ALL, "kelp") == []


async def test_a_search_says_which_of_its_matches_this_is(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(folder(inspected(sequence(b"manta", range(1, 13)), FOUND)), monkeypatch) as (app, pilot):
        await press(pilot, "slash", *"UV index", "enter")
        assert "match 1 of 2 for UV index; n: next, N: previous" in screen_text(app)
        await press(pilot, "n")
        assert "match 2 of 2 for UV index" in screen_text(app)
        await press(pilot, "n")
        assert "no later match for UV index (2 in total)" in screen_text(app)
