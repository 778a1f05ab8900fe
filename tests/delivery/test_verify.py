"""Tests of the comparison between the findings before the fixes and the findings after them."""

from __future__ import annotations

from pathlib import Path

from inspector.delivery.choices import Choice
from inspector.delivery.comparison import compare
from inspector.delivery.planning import make_plan
from tests.helpers.broken.topology import one_face_less
from tests.helpers.sequences import look_at_all, shot


def test_a_finding_that_was_there_is_new_only_on_frames_that_a_step_touched(tmp_path: Path) -> None:
    before = look_at_all(tmp_path / "in", shot({5: one_face_less}))
    after = look_at_all(tmp_path / "out", shot({5: one_face_less, 6: one_face_less}))
    assert compare(make_plan(before, []), after).new == ()
    moved = compare(make_plan(before, [Choice("offset", {"x": 1})]), after).new
    assert [finding.check for _, finding in moved] == ["face-count"]


def test_a_finding_that_was_not_there_is_new_wherever_it_is(tmp_path: Path) -> None:
    before = look_at_all(tmp_path / "in", shot())
    after = look_at_all(tmp_path / "out", shot({6: one_face_less}))
    assert [finding.check for _, finding in compare(make_plan(before, []), after).new] == ["face-count"]


def test_a_preview_shows_only_what_changes(tmp_path: Path) -> None:
    """The offset is too small for the seven digits of a preview, which would read `a -> a`."""
    (step,) = make_plan(look_at_all(tmp_path, shot()), [Choice("offset", {"x": 1e-12})]).steps
    assert step.preview == ()
