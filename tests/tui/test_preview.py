"""Tests of the preview of a fix."""

from __future__ import annotations

from pathlib import Path
from threading import Event
from typing import Any

import numpy as np
import pytest

from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.sequence.discovery.settings import Settings
from inspector.tui.link import Link
from inspector.tui.pictures.painter import NotPainted, Painted
from inspector.tui.pictures.preview import PreviewReady
from inspector.tui.screens import picture_screen
from inspector.tui.screens.viewer_screen import ViewerScreen
from tests.helpers.broken.placement import placed_at
from tests.helpers.command import digests
from tests.helpers.sequences import look_at_all
from tests.helpers.tui.looking import picture, viewer
from tests.helpers.tui.screens import opened, press, screen_text, until


async def test_v_again_shows_the_offered_fix_and_once_more_the_frame_as_it_is(
    broken: FolderInspection, demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = digests(demo)
    async with viewer(broken, monkeypatch, frame=9, look=None) as (app, pilot):
        assert "before, textured" in screen_text(app)
        await press(pilot, "h")
        source = picture(app)
        await press(pilot, "v")
        text = screen_text(app)
        assert "AFTER, textured" in text
        assert "not staged: Restore UVs from the reference" in text
        fixed = picture(app)
        assert fixed != source
        await press(pilot, "v")
        assert picture(app) == source
        await press(pilot, "1", "v")
        await until(pilot, lambda: "─ staged: " in screen_text(app))
        assert picture(app) == fixed
    assert digests(demo) == before


async def test_the_look_suits_the_finding_unless_one_is_chosen(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Frame 13 jumps, and frame 3 has no UVs (demo/defects.py)."""
    async with opened(broken, monkeypatch) as (app, pilot):
        for frame, look in (("9", "textured"), ("13", "shaded"), ("3", "textured")):
            await press(pilot, "number_sign", *frame, "enter", "v")
            assert f"{look} ─" in screen_text(app)
            await press(pilot, "q")
        await press(pilot, "v", "l", "2", "q", "number_sign", "9", "enter", "v")
        assert "wireframe ─" in screen_text(app)


async def test_a_finding_on_all_faces_hides_none_of_them(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=8) as (app, pilot):
        assert "E UV index mismatch: all 598 faces" in screen_text(app)
        marked = picture(app)
        await press(pilot, "h")
        assert picture(app) == marked
        await press(pilot, "h")  # the choice is kept for the next time
    async with viewer(broken, monkeypatch, frame=9) as (app, pilot):
        assert "E UV index mismatch: 334 faces hatched, " in screen_text(app)
        marked = picture(app)
        await press(pilot, "h")
        assert picture(app) != marked


async def test_the_preview_holds_what_the_fix_restores(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=9) as (app, pilot):
        await press(pilot, "v")
        screen = app.screen
        assert isinstance(screen, ViewerScreen)
        assert screen.preview is not None
        place = screen.preview.place(screen.number)
        assert place is not None
        fixed, reference = screen.preview.source.store.frame(place), screen.source.store.reference
        assert reference is not None
        np.testing.assert_array_equal(fixed.shape.corner_uvs, reference.shape.corner_uvs)


async def test_a_frame_that_does_not_exist_yet_is_drawn_and_called_added(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "1", "9", "enter", "v")
        assert "this frame has no file (v: after the fix)" in screen_text(app)
        await press(pilot, "v")
        text = screen_text(app)
        assert "ADDED" in text
        assert "added from" in text


async def test_an_added_frame_names_the_frame_that_gives_its_uvs(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "4", "enter", "v", "v")
        text = " ".join(screen_text(app).split())
        assert "added from 50% of frame 3 and 50% of frame 5, UVs of frame 2" in text


async def test_the_uv_map_after_the_fix(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=9, key="U") as (app, pilot):
        source = picture(app)
        await press(pilot, "v")
        assert "AFTER, UV map" in screen_text(app)
        assert picture(app) != source


async def test_without_a_fix_it_says_so(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=2) as (app, pilot):
        await press(pilot, "v")
        assert "no preview: no fix is staged or offered for this frame" in screen_text(app)


async def test_before_and_after_beside_each_other(
    broken: FolderInspection, demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=9, look=None) as (app, pilot):
        await press(pilot, "h", "tab")
        text = screen_text(app)
        assert "before | AFTER, textured" in text
        assert "staged: Restore UVs from the reference" in text
        assert "outside the picture" not in text
        left, right = halves(picture(app))
        assert left != right
        await press(pilot, "left")
        assert halves(picture(app))[0] != left
        await press(pilot, "l", "1")
        left, right = halves(picture(app))
        assert left == right  # the fix changed only the UVs
        await press(pilot, "tab")
        assert "AFTER, shaded" in screen_text(app)
        await press(pilot, "v")
        assert "before, shaded" in screen_text(app)


async def test_a_scale_of_a_hundredth_is_not_a_dot(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with opened(inspect_folder(demo / "manta", Settings(size=0.02542)), monkeypatch) as (app, pilot):
        await press(pilot, "v")
        before = picture(app).splitlines()
        assert " 0.2 units\n" in screen_text(app)
        await press(pilot, "v")
        after = picture(app).splitlines()
        assert after[1:] == before[1:]
        assert after[0].strip() == "longest side 0.02542 units (before: 2.542 units)"
        assert " 0.002 units\n" in screen_text(app)
        assert "Scale all frames (one constant); drawn at the old scale ─" in screen_text(app)

        await press(pilot, "tab")
        left, right = halves(picture(app))
        assert (left[0], right[0]) == (" longest side 2.542 units", " longest side 0.02542 units")
        assert left[1:] == right[1:]
        assert any(row.strip() for row in left[1:])
        assert "Scale all frames (one constant); each picture has its own scale" in screen_text(app)
        for key in ("0", "left", "plus"):  # both sides share a camera, which every key moves
            shown = picture(app)
            await press(pilot, key)
            assert picture(app) != shown
            left, right = halves(picture(app))
            assert left[1:] == right[1:]


async def test_an_object_that_comes_from_far_away_is_not_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    shot = placed_at(2e6)
    async with opened(look_at_all(tmp_path, shot), monkeypatch) as (app, pilot):
        finding = next(one for one in app.session.views[0].findings if one.check == "far-from-origin")
        await press(pilot, str(finding.fixes.index("offset") + 1), "tab", "tab", "tab", *"origin", "enter")
        await press(pilot, "v", "tab")
        assert "each picture has its own position" in screen_text(app)
        left, right = halves(picture(app))
        assert left[0].startswith(" centre 2e+06 ")
        assert right[0] == " centre 0 0 0"
        assert any(row.strip() for row in right[1:])


async def test_both_sides_are_whole_although_a_picture_was_drawn_before_the_preview_was_ready(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate, make = Event(), picture_screen.preview_of

    def slow(*words: Any) -> Any:
        assert gate.wait(30)
        return make(*words)

    monkeypatch.setattr(picture_screen, "preview_of", slow)
    async with viewer(broken, monkeypatch, frame=9, look=None) as (app, pilot):
        assert isinstance(app.screen, ViewerScreen)
        await pilot.press("tab")
        shown = picture(app)
        await pilot.press("h")
        await until(pilot, lambda: picture(app) != shown)
        gate.set()
        await until(pilot, lambda: "before | AFTER, textured" in screen_text(app))
        await press(pilot)
        assert "outside the picture" not in screen_text(app)


async def test_uv_maps_beside_each_other(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=9, key="U") as (app, pilot):
        await press(pilot, "tab")
        assert "before | AFTER, UV map" in screen_text(app)
        left, right = halves(picture(app))
        assert left != right


def halves(text: str) -> tuple[list[str], list[str]]:
    rows = [row.ljust(80) for row in text.splitlines()]
    assert {row[39] for row in rows} == {"│"}
    return [row[:39].rstrip() for row in rows], [row[40:79].rstrip() for row in rows]


async def test_the_footer_offers_before_and_after_only_where_a_fix_changes_the_frame(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=7, look=None) as (app, pilot):
        assert screen_text(app).splitlines()[-1].startswith("l display  arrows turn  , . next frame  + - zoom")
        await press(pilot, "full_stop")
        assert screen_text(app).splitlines()[-1].startswith("v before/after  tab side by side")


async def test_a_fix_that_is_staged_while_its_preview_is_shown_is_called_staged(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=9, look=None) as (app, pilot):
        await press(pilot, "v")
        assert "─ not staged: " in screen_text(app)
        await press(pilot, "1")
        await until(pilot, lambda: "─ staged: " in screen_text(app))
        await press(pilot, "u")
        await until(pilot, lambda: "before, textured" in screen_text(app))


async def test_an_older_preview_comes_too_late(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=9, look=None) as (app, pilot):
        assert isinstance(app.screen, ViewerScreen)
        await press(pilot, "v")
        shown = app.screen.preview
        app.screen.post_message(PreviewReady(object(), None, "no fix any more"))
        await press(pilot)
        assert app.screen.preview is shown
        assert "no fix any more" not in screen_text(app)


async def test_a_picture_that_waits_does_not_cover_why_the_next_one_is_missing(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=9, look=None) as (app, pilot):
        screen = app.screen
        assert isinstance(screen, ViewerScreen)
        order = screen.order()
        assert order is not None
        monkeypatch.setattr(Link, "free", False)
        screen.on_painted(Painted(order, np.zeros((1, 1, 3), np.uint8), []))
        screen.post_message(NotPainted(order, "manta.0010.obj: no such file"))
        monkeypatch.setattr(Link, "free", True)
        await pilot.pause(0.1)
        await press(pilot)
        assert "no such file" in screen_text(app)
