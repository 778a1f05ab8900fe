"""Tests that a problem in all frames doesn't hide a single bad frame."""

from __future__ import annotations

import pytest

from inspector.checks.base.finding import Severity
from tests.helpers.tui.screens import SMALL, app_on, cursor_frame, opened, press, screen_text
from tests.helpers.tui.world import finding, folder, inspected, sequence, view_of

EVERY = range(1, 3001)
FOUND = [
    finding("texture-missing", Severity.ERROR, *EVERY),
    finding("frozen", Severity.WARNING, *range(1, 3001, 2)),
    finding("no-uvs", Severity.ERROR, 1200),
]


def test_what_nearly_all_frames_have_sets_none_apart() -> None:
    ten = sequence(b"manta", range(1, 11))
    assert view_of(inspected(ten, [finding("no-uvs", Severity.ERROR, *range(1, 10))])).shared == {0}
    assert view_of(inspected(ten, [finding("no-uvs", Severity.ERROR, *range(1, 9))])).shared == set()
    for count, shares in ((3, False), (4, True)):
        few = sequence(b"kelp", range(1, count + 1))
        found = finding("no-uvs", Severity.ERROR, *range(1, count + 1))
        assert bool(view_of(inspected(few, [found])).shared) is shares


async def test_frame_1200_of_3000_is_where_the_cursor_starts(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(folder(inspected(sequence(b"cloth", EVERY), FOUND)), monkeypatch)
    app.session.fresh = True
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        rows = screen_text(app).splitlines()
        assert rows[1].startswith("= every frame: E Texture file missing")
        assert rows[2].count("E") == 1  # in the strip
        assert cursor_frame(app) == "1200"
        assert app.session.finding is not None
        assert app.session.finding.check == "no-uvs"
        await press(pilot, "s", "w", "home")
        assert cursor_frame(app) == "1200"


async def test_a_frame_without_the_shared_problem_is_not_counted_in(monkeypatch: pytest.MonkeyPatch) -> None:
    ten = sequence(b"manta", range(1, 11))
    for last, words in ((10, "= every frame: E"), (9, "= nearly every frame: E")):
        found = finding("no-uvs", Severity.ERROR, *range(1, last + 1))
        async with opened(folder(inspected(ten, [found])), monkeypatch) as (app, _):
            text = screen_text(app)
            assert text.splitlines()[1].startswith(words)
            assert f"{words[:-3].replace('= ', '= like ')}" in text


async def test_long_lists_of_frames_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(folder(inspected(sequence(b"cloth", EVERY), FOUND)), monkeypatch) as (app, _):
        text = screen_text(app)
        assert "1,500 frames" in text
        assert "every frame" in text


async def test_the_worst_sequence_comes_first_with_causes_that_several_have(monkeypatch: pytest.MonkeyPatch) -> None:
    ones = [
        inspected(sequence(b"kelp", range(1, 9)), []),
        inspected(sequence(b"manta", range(1, 9)), [finding("texture-missing", Severity.ERROR, 3)]),
        inspected(sequence(b"jelly", range(1, 9)), [*FOUND[2:], finding("texture-missing", Severity.ERROR, 2)]),
    ]
    async with opened(folder(*ones), monkeypatch) as (app, _):
        rows = screen_text(app).splitlines()
        assert [row[2:6] for row in rows[1:4]] == ["jell", "mant", "kelp"]
        assert "the same in several sequences: E Texture file missing (2 of 3)" in rows[4]
