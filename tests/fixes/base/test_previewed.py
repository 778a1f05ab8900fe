"""Tests of how a plan previews the changes that a fix makes."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.planning import make_plan
from inspector.fixes.base.preview import previewed
from inspector.report.html.fixes import fixes_section
from inspector.report.html.gather import ReportPage
from inspector.report.plan_text import plan_text
from inspector.report.text_style import TextStyle
from inspector.tui.screens.plan_screen import plan_lines
from tests.helpers.sequences import look_at_all, shot


@pytest.mark.parametrize(
    ("missing", "more"), [((2, 4, 6), ""), ((2, 4, 6, 8), "and 1 more"), ((2, 4, 6, 8, 10), "and 2 more")]
)
def test_more_than_three_changes_are_counted(missing: tuple[int, ...], more: str, tmp_path: Path) -> None:
    files = {name: data for name, data in shot().items() if name not in {f"manta.{one:04}.obj" for one in missing}}
    result = look_at_all(tmp_path, files)
    plan = make_plan(result, [Choice("fill-frames", {}, None, tuple(map(Fraction, missing)))])
    changes, words = previewed(plan.steps[0])
    assert [change.label for change in changes] == [f"frame {number}" for number in missing[:3]]
    assert words == more
    (line,) = plan_lines(plan)
    page = fixes_section(ReportPage(result, (), plan))
    for text in (plan_text(plan, TextStyle(80)), line.card.text(TextStyle(80)).plain, "\n".join(page.itertext())):
        lines = [line.strip() for line in text.splitlines()]
        assert [line for line in lines if line.endswith("more")] == ([more] if more else [])
        assert [line for line in lines if line.startswith("frame 6")]
        assert not [line for line in lines if line.startswith("frame 8:")]
