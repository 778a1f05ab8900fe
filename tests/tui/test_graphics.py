"""Tests of the terminal's answers to queries about pixel graphics."""

from __future__ import annotations

import pytest

from inspector.tui.graphics import ANSWER_SECONDS, Asked, Graphics, Protocol
from tests.helpers.tui.pixel_terminal import PixelTerminal

CELL = 9, 19


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


def answered(terminal: PixelTerminal, **environment: str) -> Graphics:
    asked = Asked(environment)
    terminal.feed(asked.questions())
    said = terminal.take_answers()
    for step in range(1, 12):
        asked.questions()
        typed = "".join(asked.typed(said[at : at + step]) for at in range(0, len(said), step))
        assert typed == "", step
    return asked.graphics


@pytest.mark.parametrize("protocol", list(Protocol))
def test_each_protocol_is_known_by_its_own_answer(protocol: Protocol) -> None:
    graphics = answered(PixelTerminal(20, 5, {protocol}, cell=CELL))
    assert graphics.protocol is protocol
    assert graphics.cell == CELL


def test_a_terminal_without_pixels() -> None:
    assert answered(PixelTerminal(20, 5, (), cell=CELL)) == Graphics(cell=CELL)


def test_of_several_protocols_the_one_that_suits_best() -> None:
    assert answered(PixelTerminal(20, 5, set(Protocol))).protocol is Protocol.KITTY
    assert answered(PixelTerminal(20, 5, {Protocol.SIXEL, Protocol.INLINE})).protocol is Protocol.INLINE


def test_tmux_passes_on_the_kitty_graphics_protocol_alone() -> None:
    graphics = answered(PixelTerminal(20, 5, set(Protocol), tmux=True), TMUX="/tmp/tmux")
    assert (graphics.protocol, graphics.tmux) == (Protocol.KITTY, True)
    assert not graphics.inline
    assert not graphics.sixel  # tmux itself would have to report Sixel


def test_tmux_that_draws_sixel_itself() -> None:
    graphics = answered(PixelTerminal(20, 5, {Protocol.SIXEL}), TMUX="/tmp/tmux")
    assert (graphics.protocol, graphics.tmux) == (Protocol.SIXEL, True)


def test_screen_passes_on_nothing() -> None:
    assert answered(PixelTerminal(20, 5, {Protocol.KITTY, Protocol.INLINE}), STY="1.pts").protocol is None


def test_a_terminal_that_does_not_know_characters_for_pictures_is_not_sent_any() -> None:
    """Such a terminal ignores the keys `U` and `P` of the kitty graphics protocol, and reports success."""
    asked = Asked({})
    asked.questions()
    assert asked.typed("\x1b_Gi=31;OK\x1b\\\x1b_Gi=32,p=1;OK\x1b\\") == ""
    assert asked.graphics == Graphics(kitty=True)
    assert asked.graphics.protocol is None


@pytest.mark.parametrize(
    "answer",
    [
        "\x1b_Gi=31;ENOTSUPPORTED\x1b\\",
        "\x1b_Gi=7;OK\x1b\\",
        "\x1b[?4c",  # the class of a terminal
        "\x1b[?62;22;44c",
        "\x1b]1337;Capabilities=T3LrMSc7UUw9Ts3BFGsGoSyHNo\x07",  # only focus reporting
        "\x1b]1337;Other=FF\x07",
        "\x1b[6;0;8t",
        "\x1b[6;20;99999t",
        "\x1b_G\x1b\\",
        "\x1b[?c",
    ],
)
def test_what_says_nothing_of_pixels(answer: str) -> None:
    asked = Asked({})
    asked.questions()
    assert asked.typed(answer) == ""
    assert asked.graphics == Graphics()


def test_keys_around_answers_are_kept() -> None:
    asked = Asked({})
    asked.questions()
    assert asked.typed("jj\x1b[?62;4ck\x1b[6;20;10tq\x1b[A\x1b[5;3R") == "jjkq\x1b[A\x1b[5;3R"
    assert asked.graphics == Graphics(sixel=True, cell=(10, 20))


@pytest.mark.parametrize("key", ["\x1b", "\x1b[", "\x1b_", "\x1b]", "\x1b[6"])
def test_the_beginning_of_an_answer_that_is_a_key_is_kept_back_for_a_moment_only(key: str) -> None:
    clock = Clock()
    asked = Asked({}, clock)
    asked.questions()
    assert asked.typed("j" + key) == "j"
    assert asked.nothing_more() == key
    assert asked.nothing_more() == ""
    clock.now += ANSWER_SECONDS
    assert asked.typed("j" + key) == "j" + key  # no more answers are expected


def test_a_late_answer_is_no_key_and_is_not_believed() -> None:
    clock = Clock()
    asked = Asked({}, clock)
    asked.questions()
    clock.now += ANSWER_SECONDS
    assert asked.typed("j\x1b_Gi=31;OK\x1b\\\x1b[?62;4c\x1b[6;20;10t") == "j"
    assert asked.graphics == Graphics(cell=(10, 20))  # which is asked for after each resize
    clock.now -= 0.01
    assert asked.typed("\x1b[?62;4c") == ""
    assert asked.graphics.sixel


def test_after_a_pause_all_is_asked_again() -> None:
    asked = Asked({})
    asked.questions()
    asked.typed("\x1b[?62;4c\x1b[6;20;10t")
    assert asked.graphics.protocol is Protocol.SIXEL
    asked.questions()
    assert asked.graphics == Graphics()
