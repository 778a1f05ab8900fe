"""Tests of plots over the frames."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.checks.base.finding import Severity
from inspector.checks.base.registry import all_checks
from inspector.inspection.inspection import FolderInspection
from inspector.report.curves import PANELS
from inspector.sequence.measure.motion_facts import Leap
from inspector.tui.glyphs import ASCII
from inspector.tui.screens.plots_screen import PlotsScreen
from inspector.tui.widgets import band_plot
from inspector.tui.widgets.band_plot import BandPlot
from tests.helpers.tui.screens import (
    LARGE,
    SMALL,
    app_on,
    assert_screen,
    cursor_frame,
    opened,
    press,
    resize,
    screen_text,
)
from tests.helpers.tui.world import facts_of, finding, folder, harbour, inspected, sequence, view_of


def values_of(title: str, curve: str, *numbers: int) -> np.ndarray:
    """Return the values of a curve by frame.

    The mesh is a box two units long. In frame n, it is at x = 0.05 n and y = 0.5 sin(n / 3) (world.facts_of). Each file
    has 1000 bytes.
    """
    shot = sequence(b"manta", numbers)
    facts = [replace(one, leap=Leap(3, (0.0, 3.0, 4.0), 1)) for one in facts_of(shot)]
    view = view_of(inspected(shot, [], tuple(facts)))
    panel = next(one for one in PANELS if one.title == title)
    return next(one for one in panel.curves if one.title == curve).by_row(view)


def test_values_by_hand() -> None:
    np.testing.assert_allclose(values_of("centre by axis", "x", 1, 2, 5), [0.0, 0.05, 0.2], atol=1e-12)
    height = 0.5 * np.sin(np.array([1, 2]) / 3)
    np.testing.assert_allclose(values_of("centre by axis", "y", 1, 2), height - height[0], atol=1e-12)
    np.testing.assert_allclose(values_of("size by axis", "along x", 1, 2), 2.0)
    np.testing.assert_allclose(values_of("size by axis", "along y", 1, 2), 1.0)
    np.testing.assert_allclose(values_of("speed", "fastest vertex", 1, 2, 5), [np.nan, 5.0, np.nan])  # 3, 4, 5
    np.testing.assert_allclose(values_of("counts", "UVs", 1, 2), 650)
    np.testing.assert_allclose(values_of("files", "size", 1, 2), 1.0)
    np.testing.assert_allclose(values_of("files", "modified", 1, 2), 0.0)


def test_a_gap_says_nothing_about_the_speed() -> None:
    along = np.hypot(0.05, 0.5 * (np.sin(2 / 3) - np.sin(1 / 3)))
    np.testing.assert_allclose(values_of("speed", "centre", 1, 2, 5, 6)[[0, 1, 2]], [np.nan, along, np.nan])


@pytest.mark.parametrize("number", range(1, len(PANELS) + 1))
async def test_screens(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, "number_sign", *"9", "enter", "d", str(number))
        assert PANELS[number - 1].title in screen_text(app)
        if number == 1:
            assert_screen(app, "plots")


async def test_ascii(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch, ASCII)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, "d")
        assert_screen(app, "plots-ascii")
        assert screen_text(app).isascii()


def shot_of(rows: int) -> object:
    return folder(inspected(sequence(b"manta", range(1, rows + 1)), [finding("frozen", Severity.ERROR, 6_321)]))


async def test_zoom_and_pan_over_ten_thousand_frames(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(shot_of(10_000), monkeypatch) as (app, pilot):
        await press(pilot, "n", "d")
        screen = app.screen
        assert isinstance(screen, PlotsScreen)
        assert "frames 1-10000" in screen_text(app)
        seen = []
        for _ in range(12):
            await press(pilot, "plus")
            first, stop = screen.window
            assert first <= 6_320 < stop
            seen.append(stop - first)
        assert seen[:3] == [5000, 2500, 1250]
        assert seen[-1] == 8
        await press(pilot, "greater_than_sign")
        assert screen.window == (first + 2, stop + 2)
        assert screen.window[0] <= screen.row < screen.window[1]
        await press(pilot, "home")
        assert screen.window == (0, 8)
        await press(pilot, "less_than_sign")
        assert screen.window == (0, 8)
        await press(pilot, "minus", "minus")
        assert screen.window == (0, 32)
        await press(pilot, "0", "shift+right")
        assert screen.window is None
        assert "all frames are visible" in screen_text(app)


async def test_along_the_columns_and_the_frames(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(shot_of(10_000), monkeypatch) as (app, pilot):
        await press(pilot, "d", "right")
        columns = app.screen.query_one(BandPlot).columns
        assert app.screen.row == round(10_000 / columns)
        await press(pilot, "full_stop", "full_stop", "comma")
        assert app.screen.row == round(10_000 / columns) + 1


async def test_one_cursor_for_all_screens(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", *"5", "enter", "d", "n")
        assert app.session.view.rows[app.session.row].number == 8
        await press(pilot, "q")
        assert cursor_frame(app) == "8"
        await press(pilot, "v", "full_stop", "q", "d")
        assert "frame 9 " in screen_text(app)


async def test_a_frame_without_a_file_is_a_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", *"14", "enter", "d")
        assert "drift of the centre (diagonals): no value; min " in screen_text(app)


async def test_only_what_the_cursor_changes_is_drawn_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(shot_of(10_000), monkeypatch) as (app, pilot):
        await press(pilot, "d")
        plot = app.screen.query_one(BandPlot)
        regions = []
        monkeypatch.setattr(band_plot, "curve", lambda *_: pytest.fail("a curve is drawn again"))
        monkeypatch.setattr(plot, "refresh", lambda *ones: regions.extend(ones))
        await press(pilot, "right")
        assert plot.render_line(1).cell_length == plot.size.width
        assert sum(region.area for region in regions) < plot.size.area / 4


async def test_marks(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "apostrophe")
        assert "no frame is marked" in screen_text(app)
        await press(pilot, "m", "down", "down", "m")
        assert "*1 " in screen_text(app)
        assert cursor_frame(app) == "3"
        await press(pilot, "end", "apostrophe")
        assert cursor_frame(app) == "1"
        await press(pilot, "d", "apostrophe")
        assert "frame 3 " in screen_text(app)
        await press(pilot, "m")
        assert "unmarked frame 3" in screen_text(app)
        await press(pilot, "q", "home", "end", "apostrophe")
        assert cursor_frame(app) == "1"
        assert "*3 " not in screen_text(app)


async def test_next_of_the_same_check(monkeypatch: pytest.MonkeyPatch) -> None:
    shot = sequence(b"manta", range(1, 25))
    found = [
        finding("uv-mismatch", Severity.ERROR, 3, 4, 9),
        finding("vertex-count", Severity.ERROR, 6),
        finding("frozen", Severity.NOTE, 8, 12),
    ]
    async with opened(folder(inspected(shot, found)), monkeypatch) as (app, pilot):
        await press(pilot, "asterisk")
        assert "no finding is chosen" in screen_text(app)
        await press(pilot, "n", "asterisk")
        assert cursor_frame(app) == "9"
        await press(pilot, "n")
        assert "no later match for uv-mismatch" in screen_text(app)
        await press(pilot, "up", "asterisk", "d", "N")
        assert "frame 8 " in screen_text(app)
        await press(pilot, "n")
        assert "frame 12 " in screen_text(app)
        await press(pilot, "slash", "enter", "N", "N")
        assert "frame 6 " in screen_text(app)


async def test_no_heading_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await resize(pilot, LARGE)
        await press(pilot, "end")
        assert "…" not in screen_text(app)
        await resize(pilot, SMALL)
        await press(pilot, "d")
        for panel in "123456":
            await press(pilot, panel)
            assert "…" not in screen_text(app)


async def test_a_limit_is_a_line_where_the_axis_reaches_it(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Frame 16 is enlarged by half (demo/defects.py), so the size axis includes the upper limit for a jump, 1.15 times
    the usual size, but not the lower limit."""
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", *"16", "enter", "d")
        lines = [row for row in screen_text(app).splitlines() if "lim " in row]
        assert len(lines) == 1
        limit = float(lines[0].split()[1])
        sizes = app.session.view.series.size_ratio
        assert limit == pytest.approx(1.15 * float(np.nanmedian(sizes)), rel=0.005)
        assert lines[0].count("─") > 20


async def test_only_the_frames_of_one_check(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "f")
        choices = [
            row[4:].strip() for row in screen_text(app).splitlines() if row[4:].startswith(("all", "only", "fr"))
        ]
        await press(pilot, *["down"] * choices.index("only Bad number"), "enter")
        text = screen_text(app)
        assert "only Bad number" in text
        assert app.screen.table.row_count() == 1
        await press(pilot, "u")
        assert app.screen.table.row_count() > 20


def test_curves_name_checks_that_there_are() -> None:
    known = {check.id for check in all_checks()}
    for panel in PANELS:
        for measured in panel.curves:
            assert measured.checks, measured.title
            assert set(measured.checks) <= known, measured.title


async def test_a_curve_is_marked_by_checks_of_its_own_values(monkeypatch: pytest.MonkeyPatch) -> None:
    def signs() -> str:
        rows = screen_text(app).splitlines()
        below = next(at for at, row in enumerate(rows) if row.lstrip().startswith("frame  1"))
        return "".join(rows[below - 1].split())

    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "d")
        assert signs() == "........W....E.....n...."
        await press(pilot, "5")  # counts: a UV mismatch concerns the UV indices
        assert signs() == ".......EE....E.........."
