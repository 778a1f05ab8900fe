"""Tests of comparing two frames, and of comparing a source with its corrected folder."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from rich.terminal_theme import MONOKAI
from textual.widgets import Input

from inspector.delivery.choices import lossless_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.picture.ramp import NO_VALUE, Ramp
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.sequence.discovery.receipt_marks import corrected_files
from inspector.tui.glyphs import ASCII
from inspector.tui.pictures.cells import cells_for
from inspector.tui.pictures.colours import Depth
from inspector.tui.pictures.compare_scene import graded
from inspector.tui.pictures.painter import Painter
from inspector.tui.pictures.step_letters import lettered
from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.widgets.frame_table import FrameTable
from tests.helpers.tui.looking import viewer, with_findings
from tests.helpers.tui.screens import assert_screen, cursor_frame, opened, press, screen_text


def told(text: str, block: str) -> str:
    (line,) = [line for line in text.splitlines() if line[2:].startswith(block)]
    return line


async def test_screens(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, key="c") as (app, pilot):
        await press(pilot, "1")
        assert isinstance(app.screen, CompareScreen)
        await press(pilot, "0")
        assert_screen(app, "compare")
        await press(pilot, "enter")
        assert_screen(app, "compare-read")


async def test_with_a_marked_frame(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, key="m") as (app, pilot):
        await press(pilot, "down", "down", "c", "1")
        assert "against marked frame 8" in screen_text(app)
        await press(pilot, "enter")
        lines = (broken.root / "manta_broken.0010.obj").read_text().splitlines()
        line = next(number for number, words in enumerate(lines, 1) if words.startswith("f "))
        assert f"598 of 598 differ, the first is face 1, line {line}" in told(screen_text(app), "face UVs")
        await press(pilot, "q")
        await press(pilot, "comma", "comma")
        text = screen_text(app)
        assert "no vertex has moved" in text
        assert not [line for line in text.splitlines() if line.startswith("x ")]
        await press(pilot, "q")
        assert "*8 " in screen_text(app)


async def test_with_the_frame_before(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=10, key="c") as (app, pilot):
        await press(pilot, "2")
        assert "vertices (v) 600" in told(screen_text(app), "the same")
        await press(pilot, "home")
        text = screen_text(app)
        assert "there is no previous frame" in text
        assert "the same" not in text
        await press(pilot, "enter")  # instead of an empty page
        assert isinstance(app.screen, CompareScreen)
        assert screen_text(app).splitlines()[-1] == "there is no previous frame"


async def test_the_same_frame_is_called_the_same(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    words = "The frames are the same: no block differs."
    async with viewer(broken, monkeypatch, frame=1, key="c") as (app, pilot):
        await press(pilot, "1")
        assert words in screen_text(app).splitlines()
        await press(pilot, "enter")
        assert screen_text(app).splitlines()[1] == words
        await press(pilot, "q", "full_stop")
        assert words not in screen_text(app)


async def test_differences_that_are_not_known_yet_are_not_called_none(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Painter, "ask", lambda *_: None)
    async with viewer(broken, monkeypatch, frame=10, key="c") as (app, pilot):
        await press(pilot, "2", "enter")
        assert isinstance(app.screen, CompareScreen)
        assert screen_text(app).splitlines()[-1] == "the frames are still being compared"


async def test_side_by_side_both_frames_are_whole(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=9, key="c") as (app, pilot):
        await press(pilot, "1", "l", "2")
        text = screen_text(app)
        assert "textured, frame 9 | reference frame 1" in text
        assert "outside the picture" not in text
        assert text.splitlines()[-1].startswith("l display  arrows turn")


async def test_a_frame_that_cannot_be_read(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=7, key="c") as (app, pilot):
        await press(pilot, "1")
        assert "this frame can't be read" in screen_text(app)
        assert "after the fix" not in screen_text(app)  # v has no meaning on this screen
        await press(pilot, "full_stop", "full_stop", "plus", "left", "q")
        assert cursor_frame(app) == "9"


async def test_a_source_with_its_corrected_folder(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inspection = inspect_folder(demo / "manta_broken")
    out = tmp_path / "fixed"
    deliver(make_plan(inspection, lossless_choices(inspection)), out)
    async with viewer(inspection, monkeypatch, key="c") as (app, pilot):
        await press(pilot, "3", "ctrl+u", *"nowhere", "enter")
        assert "not a folder" in screen_text(app)
        await press(pilot, "ctrl+u")
        app.screen.query(Input).first().value = str(out)
        await press(pilot, "enter")
        text = screen_text(app)
        assert "against the corrected frame in fixed" in text
        # The UV indices of frame 8 are restored, and nothing moved.
        assert "vertices (v) 600" in told(text, "the same")
        assert told(text, "face UVs").startswith("x")
        await press(pilot, "enter")
        text = screen_text(app)
        assert "frame 8 and the corrected frame in fixed: differences" in text
        assert "Elements and lines are numbered from 1; line numbers refer to frame 8." in " ".join(text.split())


def letters_in(text: str) -> set[str]:
    return set("ABCDEF") & {letter for row in text.splitlines()[1:-12] for letter in row}


async def test_letters_and_shades_are_those_on_the_screen(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(inspect_folder(demo / "manta"), monkeypatch, 5, ASCII, "c") as (app, pilot):
        await press(pilot, "1")
        text = screen_text(app)
        assert letters_in(text) == set("ABCDEF")
        assert "distance from the other frame: 0.241 to 0.4641 units" in text
        assert "shades: A 0.241, B 0.278, C 0.315, D 0.353, E 0.390, F 0.427 to 0.464 units" in text
        await press(pilot, *["plus"] * 6)  # only the middle of the body is left
        text = screen_text(app)
        assert letters_in(text) == {"A"}
        assert "shades: A 0.241 to 0.278 units" in text
        assert "stripes" not in text


def test_a_letter_for_each_step_that_is_seen() -> None:
    cells = cells_for(Depth.TRUE, False, dots=False)[0]
    steps = np.zeros((8, 24), np.int64)
    steps[:, 12:] = 1
    steps[1, 20] = 2  # half of a cell; the other half belongs to step 1
    steps[7, :3] = NO_VALUE
    steps[6, 0] = 3
    steps = steps.repeat(2, axis=0).repeat(2, axis=1)  # a cell is two pixels wide and four pixels high
    strips = cells.strips(Ramp(0.0, 1.0, 4).colours[np.maximum(steps, 0)])
    rows = [line.text for line in lettered(strips, steps, Ramp(0.0, 1.0, 4), cells)]
    assert [[(at, one) for at, one in enumerate(row) if one in "ABCD"] for row in rows] == [
        [(0, "A"), (8, "A"), (16, "B"), (20, "C")],
        [],
        [(4, "A"), (12, "B"), (20, "B")],
        [(0, "D")],
    ]


@pytest.mark.parametrize("depth", list(Depth))
@pytest.mark.parametrize("dots", [False, True])
def test_a_letter_never_has_the_colour_that_it_stands_on(depth: Depth, dots: bool) -> None:
    cells, ramp = cells_for(depth, False, dots=dots)[0], Ramp(0.0, 1.0)
    width, height = cells.pixels(6 * 16, 2)
    steps = np.tile(np.repeat(np.arange(6), width // 6), (height, 1))
    found = set()
    for line in lettered(cells.strips(ramp.colours[steps]), steps, ramp, cells):
        for text, style, _ in line:
            for letter in set(text) & set(ramp.letters):
                found.add(letter)
                assert style is not None
                assert style.bold or style.color != style.bgcolor
                assert (style.bgcolor is None) is (depth is Depth.NONE)
                if style.bgcolor is not None:
                    light = [sum(one.get_truecolor(MONOKAI)) for one in (style.color, style.bgcolor)]
                    assert abs(light[0] - light[1]) > 150  # of 765
    assert found == set(ramp.letters)


def test_words_where_there_is_no_scale() -> None:
    assert graded(np.array([5.0, 5.003, 5.006])) == ["5.0000", "5.0030", "5.0060"]
    assert graded(np.array([0.0, 120.0, 240.0])) == ["0", "120", "240"]
    assert graded(np.array([0.0, 2e-9, 4e-9])) == ["0", "2e-09", "4e-09"]


async def test_all_vertices_moved_alike(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in (1, 2):
        lines = [f"v {x + 5 * number} {y} 0" for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))]
        (tmp_path / f"kelp.{number:04}.obj").write_text("\n".join([*lines, "f 1 2 3 4", ""]))
    async with viewer(inspect_folder(tmp_path), monkeypatch, 2, key="c") as (app, pilot):
        await press(pilot, "2")
        text = screen_text(app)
        assert "every vertex has moved by 5 units" in text
        assert "shades" not in text


def test_a_receipt_leads_nowhere_else(tmp_path: Path) -> None:
    """The receipt also lists paths outside the folder, files that aren't frames, and a blend of frames. None of these
    is the corrected version of a frame."""
    files = [
        {"path": "manta.0002.obj", "before": [{"path": "manta.0001.obj"}]},
        {"path": "../secret.obj", "before": [{"path": "manta.0002.obj"}]},
        {"path": "/etc/hostname", "before": [{"path": "manta.0003.obj"}]},
        {"path": "invented.obj", "before": []},
        {"path": "manta.0004.obj", "before": [{"path": "manta.0001.obj"}], "invented": "blended"},
        {"path": "manta.mtl", "before": [{"path": "manta.0001.obj"}]},
        {"path": "manta.png", "before": [{"path": "manta.0001.obj"}]},
        {"path": "manta.usda", "before": [{"path": "manta.0001.obj"}]},
    ]
    (tmp_path / RECEIPT_NAME).write_text(json.dumps({"files": files}))
    assert corrected_files(tmp_path) == {"manta.0001.obj": tmp_path / "manta.0002.obj"}
    (tmp_path / RECEIPT_NAME).write_text("[3]")
    assert corrected_files(tmp_path) == {}
    assert corrected_files(tmp_path / "nowhere") == {}


async def test_textures_and_uv_maps_of_both_frames(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    """Frame 9 uses other parts of the texture than the reference frame does (demo/defects.py)."""
    async with viewer(broken, monkeypatch, frame=9, key="c") as (app, pilot):
        await press(pilot, "1", "l", "2")
        assert "textured, frame 9 | reference frame 1" in screen_text(app)
        assert "outside the picture" not in screen_text(app).split("|", 1)[0]
        assert "x face UVs" in screen_text(app) or "x vertices" in screen_text(app)
        await press(pilot, "l", "4")
        text = screen_text(app)
        assert "UV maps, frame 9 | reference frame 1" in text
        assert "2 islands; 34 faces mirrored" in text
        await press(pilot, "l", "1")
        assert "distance from the other frame" in screen_text(app)
    async with viewer(broken, monkeypatch, frame=1, key="c") as (app, pilot):
        await press(pilot, "2", "l", "3")
        assert "there is no previous frame" in screen_text(app)


async def test_frames_that_come_during_the_question_change_nothing(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """New frames move the cursor. The open question still refers to the frame that the cursor was on."""
    async with opened(with_findings(broken), monkeypatch) as (app, pilot):
        (view,) = app.session.views
        short = SequenceView(view.sequence, view.facts[:8], view.inspection)
        app.session.take_views([short])
        app.show_session()
        await press(pilot, "G", "c")
        app.session.take_views([view])
        app.show_session()
        table = app.screen_stack[0].query_one(FrameTable)
        table.action_edge(1)
        await press(pilot, "1")
        assert isinstance(app.screen, CompareScreen)
        assert "frame 8 " in screen_text(app)
