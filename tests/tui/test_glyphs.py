"""Tests of text that is prepared for a screen."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from inspector.tui.glyphs import ASCII, UNICODE
from tests.helpers.command import harmful

ANY = st.text(max_size=40)


@settings(max_examples=40)
@given(ANY, st.integers(0, 30), st.booleans(), st.booleans())
def test_a_fitted_text_has_its_width_and_does_nothing(text: str, width: int, right: bool, keep_end: bool) -> None:
    for glyphs in (UNICODE, ASCII):
        fitted = glyphs.fit(text, width, right=right, keep_end=keep_end)
        assert cell_len(fitted) == width
        assert not harmful(fitted)
    assert ASCII.fit(text, width).isascii()


@settings(max_examples=40)
@given(ANY, ANY, st.integers(1, 100))
def test_a_rule_has_its_width(title: str, note: str, width: int) -> None:
    for glyphs in (UNICODE, ASCII):
        line = glyphs.line(title, width, note)
        assert cell_len(line) == width
        assert not harmful(line)


def test_which_end_is_cut() -> None:
    assert UNICODE.fit("manta.0001.obj", 8) == "manta.0…"
    assert UNICODE.fit("manta.0001.obj", 8, keep_end=True) == "…001.obj"
    assert ASCII.fit("7", 3, right=True) == "  7"


def test_a_note_is_cut_before_it_is_left_out() -> None:
    assert UNICODE.line("frame 8", 30, "shaded, behind") == "─ frame 8 ─── shaded, behind ─"
    assert UNICODE.line("frame 8", 20, "shaded, behind") == "─ frame 8 ─ shade… ─"
    assert UNICODE.line("frame 8", 12, "shaded, behind") == "─ frame 8 ──"


def test_a_title_gives_way_to_a_short_note() -> None:
    """A note of up to 12 cells is never cut. It is left out if the title would get fewer than 12 cells."""
    title = "Unreadable or cut-off frame"
    assert UNICODE.line(title, 36, "enter: more.") == "─ Unreadable or cu… ─ enter: more. ─"
    assert UNICODE.line(title, 40, "enter: more ..") == "─ Unreadable or cut-off frame ─ enter… ─"
    assert UNICODE.line(title, 30, "enter: more") == "─ Unreadable … ─ enter: more ─"
    assert UNICODE.line(title, 29, "enter: more").startswith("─ Unreadable or cut-off")
