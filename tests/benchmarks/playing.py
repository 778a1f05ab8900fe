"""Measure how many pictures per second are shown while a sequence plays, with and without reading ahead.

Run by hand: python -m tests.benchmarks.playing [FRAMES]

No frame is kept from the previous round. Everything is measured without a delay, and with a delay of 30 ms before each
read from the disk. Other load on the machine affects the results, so it is printed, together with the process time per
picture.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
import time
from itertools import product
from pathlib import Path
from unittest.mock import patch

import numpy as np

from inspector.safe_open import read_place
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run import collect
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import UNICODE
from inspector.tui.pictures import frame_store
from inspector.tui.pictures.read_ahead import ReadAhead
from inspector.tui.pictures.scene import source_of
from inspector.tui.run import SWITCH_INTERVAL
from inspector.tui.screens.viewer_screen import ViewerScreen
from inspector.tui.widgets.picture_pane import PicturePane
from tests.benchmarks.viewer import COLUMNS, ROWS, write_sphere
from tests.helpers.picture_meshes import sphere

RATES = (24.0, 30.0)
WAITS = (0.0, 0.03)  # seconds


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 72
    collect.INLINE_BYTES = 1 << 40  # read everything in this process, because only its time is measured
    sys.setswitchinterval(SWITCH_INTERVAL)
    for around, along in ((200, 50), (600, 150)):
        with tempfile.TemporaryDirectory() as place:
            os.environ["XDG_CACHE_HOME"] = os.environ["XDG_STATE_HOME"] = place
            write_frames(Path(place) / "manta", count, around, along)
            asyncio.run(play_all(Path(place) / "manta", 2 * around * along))


def write_frames(folder: Path, count: int, around: int, along: int) -> None:
    folder.mkdir()
    positions, triangles = sphere(1.0, around, along)
    for number in range(1, count + 1):
        wave = 1.0 + 0.1 * np.sin(number / 10.0 + 3.0 * positions[:, :1])
        write_sphere(folder / f"manta.{number:04}.obj", positions * wave, triangles)


async def play_all(folder: Path, triangles: int) -> None:
    app = MeshqcApp(folder, Settings(), UNICODE)
    async with app.run_test(size=(COLUMNS, ROWS)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.press("v")
        await app.workers.wait_for_complete()
        screen = app.screen
        assert isinstance(screen, ViewerScreen)
        screen._may_flash = True
        for rate, wait, ahead in product(RATES, WAITS, (True, False)):
            screen.how_viewed.rate = rate
            screen.source = source_of(app.session, screen.view)
            shown, own = await played(screen, ahead, wait)
            words = f"{'read ahead' if ahead else 'read when due'}, storage +{1e3 * wait:g} ms"
            load = f"load {os.getloadavg()[0]:.1f}"
            print(f"{triangles:9,} triangles, {words:28} {shown:5.1f} of {rate:g} a second, {own:5.1f} ms, {load}")


async def played(screen: ViewerScreen, ahead: bool, wait: float) -> tuple[float, float]:
    """Play the sequence once, and return the number of pictures per second and the process time per picture in
    milliseconds."""
    shown, show = [0], PicturePane.show

    def counted(pane: PicturePane, strips: list[object]) -> None:
        shown[0] += 1
        show(pane, strips)  # type: ignore[arg-type]

    def due(one: ReadAhead, last: int) -> int | None:
        now = int(one._clock.due())
        return now if now > last else None

    def slow(place: Path) -> bytes:
        time.sleep(wait)
        return read_place(place)

    patches = [patch.object(PicturePane, "show", counted), patch.object(frame_store, "read_place", slow)]
    if not ahead:
        patches += [patch.object(ReadAhead, "newest", due), patch.object(ReadAhead, "go_on", lambda _: None)]
    for one in patches:
        one.start()
    start, own = time.perf_counter(), time.process_time()
    screen.action_play()
    await asyncio.sleep(len(screen.view.rows) / screen.rate)
    screen.action_play()
    seconds, own = time.perf_counter() - start, time.process_time() - own
    for one in patches:
        one.stop()
    await screen.app.workers.wait_for_complete()
    return shown[0] / seconds, 1e3 * own / max(1, shown[0])


if __name__ == "__main__":
    main()
