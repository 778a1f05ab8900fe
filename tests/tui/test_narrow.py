"""At 40 columns and 10 rows what matters most has the space: how a frame is shown, what a step does, what is typed."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from inspector.inspection.inspection import FolderInspection
from tests.helpers.tui.screens import app_on, press, screen_text, until

TINY = 40, 10


@pytest.mark.parametrize(
    ("keys", "shown"),
    [
        (("number_sign", "9", "enter", "v"), lambda rows: rows[0].endswith("before, textured, 24 fps ─")),
        (("number_sign", "9", "enter", "v", "v"), lambda rows: "AFTER, textured" in rows[0]),
        (("e", "p"), lambda rows: rows[3] == "↓ lossless  Shift UV indices back"),
        (("colon", "c", "o"), lambda rows: any(row.startswith("> y ") for row in rows) and ": co" in rows[-2]),
    ],
)
async def test_what_has_the_space(
    keys: tuple[str, ...],
    shown: Callable[[list[str]], bool],
    broken: FolderInspection,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    app = app_on(broken, monkeypatch)
    async with app.run_test(size=TINY, notifications=True) as pilot:
        await press(pilot)
        for key in keys:
            await press(pilot, key)
        await until(pilot, lambda: shown(screen_text(app).splitlines()), 20.0)
