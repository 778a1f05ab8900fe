"""The user's folders that this tool may write to besides OUT: cache and state."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Literal

_XDG = {"cache": ("XDG_CACHE_HOME", ".cache"), "state": ("XDG_STATE_HOME", ".local/state")}
_MAC = {"cache": "Library/Caches", "state": "Library/Application Support"}


def user_folder(kind: Literal["cache", "state"]) -> Path | None:
    """Find this tool's cache folder or state folder, which may not exist yet.

    Args:
        kind: Which of the two folders.

    Returns:
        The folder by the XDG base directory specification 0.8 or the system's own convention. None if the user's home
        folder is needed but not known, for example in a container whose user number has no passwd entry.
    """
    try:
        if sys.platform == "win32":
            base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
        elif sys.platform == "darwin":
            base = Path.home() / _MAC[kind]
        else:
            variable, below_home = _XDG[kind]
            base = Path(os.environ.get(variable) or Path.home() / below_home)
    except RuntimeError:  # neither HOME nor a passwd entry
        return None
    return base / "meshqc"
