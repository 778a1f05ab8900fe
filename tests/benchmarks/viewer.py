"""Measure how many pictures per second the viewer draws, and how long keys wait while it draws.

Run by hand: python -m tests.benchmarks.viewer

A picture of 20,000 triangles is drawn for an area of 120 x 40 cells, converted to cells, and then converted to the
bytes that a terminal receives. Drawing is measured by process time in one thread.
"""

from __future__ import annotations

import asyncio
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np
from rich.console import Console

from inspector.picture.camera import Camera, frame_points
from inspector.picture.drawing import Style, draw
from inspector.picture.shape import Shape
from inspector.tui.pictures.cells import Cells, cells_for
from inspector.tui.pictures.colours import Depth
from inspector.tui.pictures.render_modes import Look
from inspector.tui.run import SWITCH_INTERVAL
from tests.helpers.picture_meshes import sphere

COLUMNS, ROWS = 120, 40
ROUNDS = 20
Value = TypeVar("Value")
CHECKED_KEYS = ("left", "up", "plus", "full_stop", "minus", "comma")


def main() -> None:
    positions, triangles = sphere(1.0, 200, 50)
    edges = np.unique(np.sort(np.concatenate([triangles[:, :2], triangles[:, 1:]]), axis=1), axis=0)
    random = np.random.default_rng(1)
    shape = Shape(triangles, np.arange(len(triangles)), edges, random.random((len(triangles), 3, 2)))
    texture = random.integers(0, 256, (512, 512, 3), np.uint8)
    print(
        f"{len(triangles):,} triangles at {COLUMNS}x{ROWS}: ms of process time a picture, least and median of {ROUNDS}"
    )
    print(f"{'':34} {'draw':>6} {'cells':>6} {'bytes':>6} {'median':>7} {'a second':>9} {'KB':>5}")
    for depth in Depth:
        for look in Look:
            cells = cells_for(depth, ascii_only=False, dots=look.fine or depth is Depth.NONE)[0]
            show(f"{depth.value}, {cells.name}, {look.value}", depth, cells, positions, shape, style_of(look, texture))
    letters = cells_for(Depth.NONE, ascii_only=True, dots=False)[0]
    show("no Unicode, letters, shaded", Depth.NONE, letters, positions, shape, Style())
    print(f"\nafter a key in the viewer, load {os.getloadavg()[0]:.1f}: ms until the next one, median and longest")
    for around, along in ((200, 50), (600, 150)):
        for turn in (0.005, SWITCH_INTERVAL):
            sys.setswitchinterval(turn)
            waits = asyncio.run(key_waits(around, along))
            for name, times in zip(("on the clock", "own work"), zip(*waits, strict=True), strict=True):
                words = f"{2 * around * along:9,} triangles, turns of {1e3 * turn:g} ms, {name:13}"
                print(f"{words} {statistics.median(times):6.1f} {max(times):6.1f}")


def style_of(look: Look, texture: np.ndarray) -> Style:
    textures = (texture,) if look in (Look.TEXTURED, Look.GRID) else ()
    wires, points = look is Look.WIRES, look is Look.POINTS
    return Style(surface=not look.fine, solid=True, wires=wires, points=points, textures=textures)


def show(title: str, depth: Depth, cells: Cells, positions: np.ndarray, shape: Shape, style: Style) -> None:
    width, height = cells.pixels(COLUMNS, ROWS)
    system = None if depth is Depth.NONE else depth.value
    console = Console(color_system=system, force_terminal=True)  # type: ignore[arg-type]
    drawn, celled, sent, whole, size = [], [], [], [], 0
    camera = frame_points(positions, np.array([-1.0, -0.5, -1.0]), aspect=width / height)
    for number in range(ROUNDS):
        turned: Camera = camera.turned(7.0 * number, 0.0)
        picture, seconds = timed(lambda: draw(turned, positions, shape, style, width, height))  # noqa: B023
        strips, more = timed(lambda: cells.strips(picture))  # noqa: B023
        text, rest = timed(lambda: "\n".join(strip.render(console) for strip in strips))  # noqa: B023
        size = len(text.encode())
        for times, one in ((drawn, seconds), (celled, more), (sent, rest), (whole, seconds + more + rest)):
            times.append(1e3 * one)
    least = [min(times) for times in (drawn, celled, sent)]
    median = statistics.median(whole)
    figures = " ".join(f"{one:6.1f}" for one in least)
    print(f"{title:34} {figures} {median:7.1f} {1e3 / median:9.0f} {size / 1e3:5.1f}")


def timed(work: Callable[[], Value]) -> tuple[Value, float]:
    start = time.process_time()
    value = work()
    return value, time.process_time() - start


async def key_waits(around: int, along: int) -> list[tuple[float, float]]:
    from inspector.sequence.discovery.settings import Settings
    from inspector.tui.app import MeshqcApp
    from inspector.tui.glyphs import UNICODE

    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CACHE_HOME"] = os.environ["XDG_STATE_HOME"] = folder
        root = Path(folder) / "manta"
        root.mkdir()
        for number in range(1, 5):
            write_sphere(root / f"manta.{number:04}.obj", *sphere(1.0 + 0.02 * number, around, along))
        app = MeshqcApp(root, Settings(), UNICODE)
        async with app.run_test(size=(COLUMNS, ROWS)) as pilot:
            await app.workers.wait_for_complete()
            await pilot.press("v")
            await app.workers.wait_for_complete()
            return [await one_wait(app, key) for key in CHECKED_KEYS * 5]


async def one_wait(app: object, key: str) -> tuple[float, float]:
    """Press a key, and return the longest turn of the event loop in the next 0.1 s, in milliseconds, by the clock and
    by CPU time.

    Clock time includes the time taken by other programs and by the drawing thread. CPU time is that of the loop's own
    thread.
    """
    from textual.events import Key

    app.post_message(Key(key, None))  # type: ignore[attr-defined]
    longest, work, end = 0.0, 0.0, time.perf_counter() + 0.1
    while (before := time.perf_counter()) < end:
        own = time.thread_time()
        await asyncio.sleep(0)
        longest = max(longest, time.perf_counter() - before)
        work = max(work, time.thread_time() - own)
    return 1e3 * longest, 1e3 * work


def write_sphere(path: Path, positions: np.ndarray, triangles: np.ndarray) -> None:
    lines = [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in positions.tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (triangles + 1).tolist()]
    path.write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
