"""Tests of measuring the speed of the link to the terminal."""

from __future__ import annotations

import time

import pytest

from inspector.tui import link as link_module
from inspector.tui.link import ASK, Link


class Way:
    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.now = 0.0
        self.sent: list[str] = []
        patch.setattr(time, "monotonic", lambda: self.now)
        patch.setattr(link_module, "takes_more", lambda: True)
        self.link = Link()
        self.link.connect(self.sent.append)

    def ask(self, seconds: float) -> None:
        self.link.ask()
        self.now += seconds
        self.link.answered()


@pytest.fixture
def way(monkeypatch: pytest.MonkeyPatch) -> Way:
    return Way(monkeypatch)


def test_without_a_terminal_everything_is_taken() -> None:
    link = Link()
    link.ask()
    assert link.free
    assert not link.slow


def test_before_the_first_answer_nothing_is_known(way: Way) -> None:
    for _ in range(20):
        way.link.ask()
    assert way.link.free
    assert way.sent == [ASK] * 20


def test_a_near_terminal_gets_one_picture_after_the_other(way: Way) -> None:
    way.ask(0.002)
    way.link.ask()
    assert way.link.free  # one picture is on its way, and the next may follow
    way.link.ask()
    assert not way.link.free
    way.now += 0.002
    way.link.answered()
    assert way.link.free
    assert not way.link.slow


def test_a_long_way_that_is_quick_gets_several_at_a_time(way: Way) -> None:
    """The delay of 0.1 s is 3.3 times LINK_PICTURE. Rounded up, plus 1, this makes five pictures."""
    way.ask(0.1)
    taken = 0
    while way.link.free:
        way.link.ask()
        taken += 1
    assert taken == 5
    way.now += 0.1
    for _ in range(taken):
        way.link.answered()
    assert not way.link.slow
    way.ask(0.0)


def test_a_slow_link_gets_one_at_a_time_and_coarse_ones_until_it_is_clearly_quick(way: Way) -> None:
    way.ask(0.02)
    way.ask(0.02 + 1.01 * link_module.LINK_SECONDS)
    assert way.link.slow
    way.link.ask()
    assert not way.link.free
    way.now += 0.02 + link_module.LINK_SECONDS / 2  # coarse: less slow, but too slow for finer pictures
    way.link.answered()
    assert way.link.slow
    way.ask(0.02 + link_module.LINK_SECONDS / 5)
    assert not way.link.slow


def test_a_terminal_that_stops_to_answer_is_not_waited_for(way: Way) -> None:
    way.ask(0.01)
    while way.link.free:
        way.link.ask()
    way.now += link_module.LINK_PATIENCE + 0.1
    assert way.link.free
    way.link.ask()
    way.link.answered()  # the answer to an old question or to the last one: the terminal answers again
    way.link.answered()
    assert way.link.free


async def test_the_end_waits_for_answers_but_not_for_long(way: Way, monkeypatch: pytest.MonkeyPatch) -> None:
    waits: list[float] = []

    async def sleep(seconds: float) -> None:
        waits.append(seconds)
        way.now += seconds
        if len(waits) == 3:
            way.link.answered()

    monkeypatch.setattr(link_module.asyncio, "sleep", sleep)
    await way.link.settle()
    assert waits == []
    way.ask(0.01)
    way.link.ask()
    await way.link.settle()
    assert len(waits) == 3
    way.link.ask()
    await way.link.settle()
    assert sum(waits[3:]) == pytest.approx(link_module.LINK_LAST_WAIT, abs=0.05)
