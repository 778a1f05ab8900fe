"""Run the terminal UI: open a folder, then each folder that the user opens next."""

from __future__ import annotations

import gc
import os
import sys
from multiprocessing import resource_tracker
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.inspection.folder_rules import load_rules
from inspector.sequence.discovery.settings import Settings
from inspector.tui import saved_state
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import ASCII, UNICODE
from inspector.tui.terminal import require_screen, speaks_utf8

SWITCH_INTERVAL = 0.001
"""Number of seconds that a thread may run before other threads get a turn. To handle a key, the app's thread has to
wait for its turn several times. With Python's default of 0.005 s, these waits add up to a noticeable delay."""


def run(folder: Path, settings: Settings, *, calm: bool = False, live: bool = False) -> int:
    """Open a folder in the terminal UI, then each folder that the user opens next.

    Args:
        folder: The folder to inspect, or a frame file in that folder. If it is a file, the cursor starts on its frame.
        settings: The user's statements about the folder, and its delivery rules. Missing statements are replaced with
            those that were saved when the folder was last open.
        calm: If true, nothing on the screen may move by itself.
        live: Whether to watch an export into the folder.

    Returns:
        The exit code.

    Raises:
        MeshqcError: There is no usable terminal, the folder can't be read, or the terminal UI crashed.
    """
    require_screen(folder)
    # Worker processes need this helper process. It needs the real stderr, which the running app hides.
    resource_tracker.ensure_running()
    sys.setswitchinterval(SWITCH_INTERVAL)
    # A full garbage collection visits the facts of all frames. For 10,000 frames, it delays a key by 0.1 s.
    gc.set_threshold(700, 10, 1000)
    while True:
        glyphs = UNICODE if speaks_utf8(os.environ) else ASCII
        app = MeshqcApp(folder, settings, glyphs, calm=calm, live=live)
        with app.ended_by_signals():
            code = app.run(mouse=False)
        if code is None:
            # If this program gave no reason, Textual has printed a traceback to the terminal.
            raise MeshqcError(app.fatal or "the terminal UI crashed; no output folder was created")
        if app.next_folder is None:
            return code
        folder, live = app.next_folder, False
        settings = Settings().under(load_rules(folder))


def reopen() -> int:
    """Open the folder that was open last, with its delivery rules.

    Returns:
        The exit code.

    Raises:
        MeshqcError: The folder is not known or no longer exists, its delivery rules can't be read, or `run` failed.
    """
    folder = saved_state.last_folder()
    if folder is None:
        raise MeshqcError("no folder was given, and there is no earlier folder to reopen; see meshqc --help")
    return run(folder, Settings().under(load_rules(folder)))
