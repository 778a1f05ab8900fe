"""Tests of the list of sequences, and of the findings that several sequences share."""

from __future__ import annotations

import pytest

from inspector.checks.base.finding import Severity
from tests.helpers.tui.screens import app_on, press, screen_text
from tests.helpers.tui.world import finding, folder, inspected, sequence

SEQUENCES = [
    inspected(
        sequence(b"shot%02d/creature_with_a_long_name" % number, range(1, 25)),
        [
            finding("texture-missing", Severity.ERROR, 1, 2),
            finding("uv-mismatch", Severity.ERROR, 3),
            finding("uv-overlap", Severity.WARNING, 5),
        ],
    )
    for number in range(1, 4)
]


@pytest.mark.parametrize(
    ("width", "row", "shared"),
    [
        (40, "…2/creature_with_a_long_name  E 2  W 1", "= the same in several sequences:"),
        (80, "shot02/creature_with_a_long_name.####.obj  1-24  EEEW...............  E 2  W 1", "(3 of 3); 2 more"),
        (120, "24 files  ", "(3 of 3); "),
    ],
)
async def test_what_gives_way(width: int, row: str, shared: str, monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(folder(*SEQUENCES), monkeypatch)
    async with app.run_test(size=(width, 24), notifications=True) as pilot:
        await press(pilot)
        assert row in screen_text(app)
        assert shared in screen_text(app)
