"""The user's cache folder and state folder for this tool."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Literal

_XDG = {"cache": ("XDG_CACHE_HOME", ".cache"), "state": ("XDG_STATE_HOME", ".local/state")}
_MAC = {"cache": "Library/Caches", "state": "Library/Application Support"}


def user_folder(kind: Literal["cache", "state"]) -> Path | None:
    """Return this tool's cache folder or state folder, which may not exist yet.

    The location follows the XDG Base Directory Specification 0.8 or the convention of the operating system. The result
    is None if the location depends on the user's home folder, and the home folder is not known, for example because the
    user id in a container has no passwd entry.

    Args:
        kind: "cache" or "state".
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
