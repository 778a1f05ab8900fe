"""The state that is kept between runs: the last folder and, for each folder, its views, marks, statements and fixes.

The state file identifies columns by their ids and curves by their titles, never by their positions in a list.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from inspector.delivery.choices import Choice
from inspector.delivery.output_file import write_over
from inspector.delivery.plan_file import choice_from_json, choice_to_json, statements_from_json, statements_to_json
from inspector.report.curves import PANELS
from inspector.report.frame_rows import Place
from inspector.safe_open import read_place, refuse_others
from inspector.sequence.discovery.settings import Settings, fraction_of_json
from inspector.tui.columns import Arrangement
from inspector.tui.pictures.render_modes import Look
from inspector.tui.view_state import Cameras, cameras_from_json, cameras_to_json
from inspector.user_folders import user_folder

FORMAT = 3
_FOLDERS = 50  # maximum number of folders to keep; the least recently used are dropped
_FAULTS = (OSError, ValueError, TypeError, KeyError, AttributeError, IndexError, ArithmeticError, RecursionError)
_PRIVATE = 0o700


def state_file() -> Path:
    """Return the path of the state file, in the user's state folder.

    Raises:
        FileNotFoundError: The user has no home folder.
    """
    folder = user_folder("state")
    if folder is None:
        raise FileNotFoundError(errno.ENOENT, "no home folder")
    return folder / "state.json"


@dataclass(frozen=True, slots=True)
class SavedState:
    """The saved state of one folder.

    Attributes:
        sequence: Key of the sequence that was shown.
        frame: Key of the frame under the cursor; None if no frame was chosen.
        arrangement: Filter and order of the frame table.
        panel: Index in PANELS of the plotted curves. The state file contains their title instead.
        look: The render mode of the viewer; None if the user didn't choose a mode.
        marks: Key of a sequence -> its marked frame numbers, in the order of marking.
        cameras: Key of a sequence -> how its pictures were viewed.
        choices: The fixes that were staged but not written.
        stated: The user's statements about the folder.
    """

    sequence: str = ""
    frame: Place | None = None
    arrangement: Arrangement = field(default_factory=Arrangement)
    panel: int = 0
    look: Look | None = None
    marks: Mapping[str, list[Fraction]] = field(default_factory=dict)
    cameras: Mapping[str, Cameras] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()
    stated: Settings = field(default_factory=Settings)


def last_folder() -> Path | None:
    """Return the folder that was open last; None if it is not known or no longer exists."""
    with contextlib.suppress(*_FAULTS):
        folder = Path(_read()["last"])
        return folder if folder.is_dir() else None
    return None


def load(folder: Path) -> SavedState:
    """Return the saved state of a folder; an empty state if there is no saved state, or if the saved state is not
    valid."""
    with contextlib.suppress(*_FAULTS):
        return _from_json(_read()["folders"][str(folder)])
    return SavedState()


def outdated() -> str:
    """Return a message if the state file is ignored because it has an older format; otherwise, an empty string."""
    with contextlib.suppress(*_FAULTS):
        if _document()["format"] < FORMAT:
            return "the saved views and staged fixes are from an older version of meshqc and were ignored"
    return ""


def recent_folders() -> list[Path]:
    """Return the folders that were open before and still exist, the most recent first."""
    with contextlib.suppress(*_FAULTS):
        folders = [Path(name) for name in reversed(_read()["folders"])]
        return [folder for folder in folders if folder.is_dir()]
    return []


def save(folder: Path, saved: SavedState) -> None:
    """Save the state of a folder. If the file can't be written, do nothing.

    The states of other folders are kept if the state file is valid. If there are too many folders, the least recently
    used are dropped.

    Args:
        folder: The folder.
        saved: Its state.
    """
    try:
        folders = dict(_read()["folders"])
    except _FAULTS:
        folders = {}
    folders.pop(str(folder), None)
    folders[str(folder)] = _to_json(saved)
    document = {"format": FORMAT, "last": str(folder), "folders": dict(list(folders.items())[-_FOLDERS:])}
    with contextlib.suppress(OSError):
        path = state_file()
        path.parent.mkdir(mode=_PRIVATE, parents=True, exist_ok=True)
        refuse_others(path.parent)
        write_over(path, json.dumps(document, default=str).encode())


def _document() -> Any:
    path = state_file()
    refuse_others(path.parent)
    return json.loads(read_place(Path(os.path.realpath(path.parent)) / path.name))


def _read() -> Any:
    document = _document()
    if document["format"] != FORMAT:
        raise ValueError("format")
    return document


def _to_json(saved: SavedState) -> dict[str, object]:
    return {
        "sequence": saved.sequence,
        "frame": None if saved.frame is None else [str(saved.frame[0]), saved.frame[1]],
        "arrangement": asdict(saved.arrangement),
        "curves": PANELS[saved.panel].title,
        "look": None if saved.look is None else saved.look.value,
        "marks": {key: [str(number) for number in numbers] for key, numbers in saved.marks.items()},
        "cameras": {key: cameras_to_json(cameras) for key, cameras in saved.cameras.items()},
        "choices": [choice_to_json(choice) for choice in saved.choices],
        "stated": statements_to_json(saved.stated),
    }


def _from_json(entry: Any) -> SavedState:
    """Convert a folder's entry in the state file to the state of the folder.

    Raises:
        Exception: The entry is not valid. The error is one of _FAULTS.
    """
    frame = entry["frame"]
    titles = [panel.title for panel in PANELS]
    return SavedState(
        str(entry["sequence"]),
        None if frame is None else (fraction_of_json(frame[0]), int(frame[1])),
        Arrangement(**entry["arrangement"]),
        titles.index(entry["curves"]),
        None if entry["look"] is None else Look(entry["look"]),
        {str(key): [fraction_of_json(number) for number in numbers] for key, numbers in entry["marks"].items()},
        {str(key): cameras_from_json(cameras) for key, cameras in entry["cameras"].items()},
        tuple(map(choice_from_json, entry["choices"])),
        statements_from_json(entry["stated"]),
    )
