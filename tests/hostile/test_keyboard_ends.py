"""Tests in which the terminal UI is ended, interrupted or resized at arbitrary moments."""

from __future__ import annotations

import json
import random
import re
import shutil
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.helpers.command import digests
from tests.helpers.hostile.keyboard import Keyboard, foreign

SEED = 20261125
CLOSED = "the terminal is closed"
WAYS = ("SIGINT", "SIGTERM", "SIGHUP", CLOSED)
CHECKED = "E 15 errors"


@dataclass(frozen=True)
class State:
    """A state of the program.

    Attributes:
        seen: Text on the screen before the first key.
        keys: Keys that lead to the state.
        span: Duration of the state in seconds.
        words: Additional words of the command line.
        inline: Worker processes read the frames if the total size of the frames is at least this number of bytes.
        left: The exit code if the program is already ending in this state; otherwise None.
    """

    seen: str
    keys: tuple[str, ...]
    span: float
    words: tuple[str, ...] = ()
    inline: int = 1 << 30
    left: int | None = None


TYPE_OUT = "{out}"
STATES = {
    "starting": State("", (), 1.0),
    "reading with workers": State("0001.obj", (), 0.5, inline=0),
    "a picture is drawn": State(CHECKED, ("v", ".", " "), 0.6),
    "the UV map is drawn": State(CHECKED, ("U", "r", "."), 0.3),
    "something is typed": State(CHECKED, ("#", "1"), 0.3),
    "a plan is made": State(CHECKED, ("e", "p"), 0.3),
    "writing": State(CHECKED, ("e", "p", "w", TYPE_OUT), 1.2),
    "texture and lettering": State(CHECKED, ("t",), 0.6),
    "live": State("live: ", ("\x1b[B", "d"), 0.6, ("--live",)),
    "leaving": State(CHECKED, ("q",), 0.4, left=0),
}
_BY_HAND = {"the UV map is drawn", "a plan is made", "texture and lettering"}  # similar to the other states


class Shot:
    def __init__(self, demo: Path, place: Path) -> None:
        self.place, self.folder, self.out = place, place / "manta_broken", place / "out"
        shutil.copytree(demo / "manta_broken", self.folder)
        self._before = digests(self.folder)
        self._coming = iter(range(100, 1000))

    def open(self, state: State) -> Keyboard:
        return Keyboard(self.folder, *state.words, place=self.place / "kept", inline=state.inline)

    def bring(self, terminal: Keyboard, state: State) -> None:
        if state.seen:
            terminal.until(state.seen)
        for keys in state.keys:
            if keys == TYPE_OUT:
                terminal.until("to > ")
                terminal.press(b"\x15%s\r" % bytes(self.out))
            else:
                terminal.press(keys.encode())

    def frame_comes(self) -> None:
        path = self.folder / f"manta_broken.{next(self._coming):04}.obj"
        shutil.copy(self.folder / "manta_broken.0002.obj", path)
        self._before[path.name] = self._before["manta_broken.0002.obj"]

    def assert_sound(self) -> None:
        """Check the source, the delivery and the saved state.

        The name of an incomplete delivery must end in `.unfinished`, so that the next delivery continues it.
        """
        assert digests(self.folder) == self._before
        half_done = [path.name for path in self.place.iterdir() if path.name.startswith(".")]
        assert all(re.fullmatch(r"\.out\.[0-9a-f]{8}\.unfinished", name) for name in half_done), half_done
        if self.out.exists():
            sums = dict(line.split("  ", 1)[::-1] for line in (self.out / "SHA256SUMS").read_text().splitlines())
            assert sums.items() <= digests(self.out).items()
            shutil.rmtree(self.out)
        kept = self.place / "kept/meshqc/state.json"
        if kept.exists():
            assert json.loads(kept.read_text())["last"] == str(self.folder)


def for_a_while(terminal: Keyboard, seconds: float, meanwhile: Callable[[], None] = lambda: None) -> None:
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0:
        terminal.pump(min(left, 0.05))
        meanwhile()


@pytest.mark.parametrize("name", [name for name in STATES if name not in _BY_HAND])
def test_ended_at_any_moment(name: str, demo: Path, tmp_path: Path) -> None:
    run(name, Shot(demo, tmp_path), random.Random(f"{SEED} {name}"), moments=2, sizes=20)


@pytest.mark.slow
@pytest.mark.parametrize("name", STATES)
def test_ended_at_forty_moments(name: str, demo: Path, tmp_path: Path) -> None:
    run(name, Shot(demo, tmp_path), random.Random(f"{SEED} slow {name}"), moments=40, sizes=10)


def run(name: str, shot: Shot, chance: random.Random, moments: int, sizes: int) -> None:
    state = STATES[name]
    for at in range(moments):
        with shot.open(state) as terminal:
            shot.bring(terminal, state)
            if at % 2 and state.seen and state.left is None:
                disturb(terminal, state, chance, sizes)
            moment, way = chance.uniform(0, state.span), chance.choice(WAYS)
            for_a_while(terminal, moment, shot.frame_comes if name == "live" else lambda: None)
            print(f"{name}: {way} after {moment:.3f} s, seed {SEED}")
            assert_ends(terminal, way, state.left)
        shot.assert_sound()


def disturb(terminal: Keyboard, state: State, chance: random.Random, sizes: int) -> None:
    for at in range(sizes):
        terminal.resize(chance.randint(2, 240), chance.randint(2, 90))
        for_a_while(terminal, chance.uniform(0, 0.03))
        if at % 6 == 0:
            terminal.press(chance.choice(("\x03", "n", "?", *filter(_is_one_key, state.keys))).encode())
    assert terminal.process.poll() is None, terminal.raw[-2000:]


def _is_one_key(keys: str) -> bool:
    return len(keys) == 1


def assert_ends(terminal: Keyboard, way: str, left: int | None) -> None:
    """End the program with a signal or by closing its terminal, and check its exit code.

    `left` is the exit code if the program is already ending; otherwise None.
    """
    number = signal.SIGHUP if way == CLOSED else signal.Signals[way]
    there = b"\x1b[?1049h" in terminal.raw
    if way == CLOSED:
        terminal.hang_up()
    else:
        terminal.kill(number)
    code = terminal.end()
    # Before the terminal UI starts and after it ends, signals have their usual effect, and SIGINT ends with a sentence.
    others = {-number, 2} if not there or left is not None else set()
    if (way == CLOSED and not terminal.raw) or terminal.raw.startswith(b"Fatal Python error: init"):
        others |= {1}  # before our first statement, in Python itself or in the helper's code that opens the terminal
    assert code in {128 + number, left} | others, (code, terminal.raw[-2000:])
    if way == CLOSED:
        terminal.raw = terminal.raw[: terminal.raw.rfind(b"\x1b")]  # the last sequence may have been cut
    else:
        terminal.assert_clean()
    assert not foreign(terminal.raw), terminal.raw[-2000:]


@pytest.mark.parametrize("way", ["q", CLOSED])
def test_ends_after_pauses_that_nobody_sees_coming(way: str, demo: Path, tmp_path: Path) -> None:
    """SIGSTOP can't be caught. If the terminal is closed, SIGCONT arrives although the program was not stopped (Linux,
    tty_io.c, from memory)."""
    shot = Shot(demo, tmp_path)
    with Keyboard(shot.folder, place=shot.place / "kept") as terminal:
        terminal.until(CHECKED)
        for number in (signal.SIGSTOP, signal.SIGCONT) * 2 + (signal.SIGCONT,) * 4:
            terminal.kill(number)
            for_a_while(terminal, 0.2)
        if way == CLOSED:
            terminal.kill(signal.SIGCONT)
            terminal.hang_up()
            assert terminal.end() == 128 + signal.SIGHUP
        else:
            while terminal.process.poll() is None:  # keys that are pressed while the screen is drawn again are lost
                terminal.press(b"q")
                terminal.settle()
            assert terminal.end() == 0
            terminal.assert_clean()
    shot.assert_sound()


@pytest.mark.parametrize("key", ["d", "v", "p", "\r"])
def test_a_key_typed_after_the_last_one_does_nothing(key: str, demo: Path, tmp_path: Path) -> None:
    shot = Shot(demo, tmp_path)
    with Keyboard(shot.folder, place=shot.place / "kept") as terminal:
        terminal.until(CHECKED)
        terminal.press(f"q{key}".encode())
        assert terminal.end() == 0
        terminal.assert_clean()
        assert b"\x1b[?1049l" in terminal.raw[-200:]  # nothing is printed after the original screen is restored
    shot.assert_sound()


def test_ctrl_c_ends_at_once_what_would_be_waited_for(demo: Path, tmp_path: Path) -> None:
    """After q, the program waits for a picture that takes a minute and can't be stopped."""
    slow = "import time\nfrom inspector.tui.pictures.scene import Scene\nScene.paint = lambda *_: time.sleep(60.0)"
    shot = Shot(demo, tmp_path)
    with Keyboard(shot.folder, place=shot.place / "kept", before=slow) as terminal:
        terminal.until(CHECKED)
        terminal.press(b"v")
        terminal.until("arrows turn")
        terminal.press(b"\x1b")
        terminal.back_to_main()
        began = time.monotonic()
        terminal.press(b"q")
        while b"\x1b[?1004l" not in terminal.raw:  # the last sequence that the terminal UI sends
            terminal.pump(0.05)
        for_a_while(terminal, 0.3)
        assert terminal.process.poll() is None
        terminal.press(b"\x03")
        assert terminal.end() == -signal.SIGINT
        assert time.monotonic() - began < 50.0
        terminal.assert_clean()
    shot.assert_sound()


def test_left_by_keys_after_hundreds_of_sizes(demo: Path, tmp_path: Path) -> None:
    """If a key has staged a fix, `q` asks before it leaves the program."""
    shot, chance = Shot(demo, tmp_path), random.Random(SEED)
    with shot.open(STATES["a picture is drawn"]) as terminal:
        for name in ("a picture is drawn", "something is typed"):
            shot.bring(terminal, STATES[name])
            disturb(terminal, STATES[name], chance, 50)
            terminal.resize(80, 24)
            terminal.back_to_main()
        while terminal.process.poll() is None:
            terminal.back_to_main()
            terminal.press(b"q")
            terminal.settle()
            if "fixes are staged but not written" in terminal.text():
                terminal.press(b"\x1b[A\r")
                terminal.settle()
        assert terminal.end() == 0
        terminal.assert_clean()
        assert not foreign(terminal.raw)
