"""The terminal UI from its start to its end: a folder, then each folder that is opened from it."""

from __future__ import annotations

import gc
import os
import sys
from multiprocessing import resource_tracker
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.sequence.discovery.settings import Settings
from inspector.tui import saved_state
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import ASCII, UNICODE
from inspector.tui.terminal import require_screen, speaks_utf8

SWITCH_INTERVAL = 0.001
"""Seconds that a thread keeps others from running. A key takes several turns; at Python's own 0.005 they add up to what
is felt."""


def run(folder: Path, settings: Settings, *, calm: bool = False, live: bool = False) -> int:
    """Open the terminal UI on a folder, then on each folder that is opened from it.

    Args:
        folder: The folder to inspect, or a frame file in it to put the cursor on.
        settings: What the user stated about it.
        calm: Nothing on the screen moves by itself.
        live: An export writes to the folder.

    Returns:
        The exit code.

    Raises:
        MeshqcError: Without a usable terminal, or for a folder that can't be read.
    """
    require_screen(folder)
    # Worker processes need this helper, and it needs a real stderr, which the running app hides from it.
    resource_tracker.ensure_running()
    sys.setswitchinterval(SWITCH_INTERVAL)
    # A full collection walks over the facts of all frames, a tenth of a second with 10,000 of them: a key that waits.
    gc.set_threshold(700, 10, 1000)
    while True:
        glyphs = UNICODE if speaks_utf8(os.environ) else ASCII
        app = MeshqcApp(folder, settings, glyphs, calm=calm, live=live)
        with app.ended_by_signals():
            code = app.run(mouse=False)
        if code is None:
            # Without a reason of ours the library has shown on the terminal where the app broke.
            raise MeshqcError(app.fatal or "the terminal UI broke; no output folder was created")
        if app.next_folder is None:
            return code
        folder, live = app.next_folder, False
        settings = saved_state.load(folder.resolve()).stated


def reopen() -> int:
    """Open the folder that was open last, with what was stated about it then. Raises MeshqcError without any."""
    folder = saved_state.last_folder()
    if folder is None:
        raise MeshqcError("a folder is missing; see meshqc --help")
    return run(folder, saved_state.load(folder).stated)
