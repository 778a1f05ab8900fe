"""What survives the end of the program: the last folder, and for each folder what one saw there and had staged."""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from inspector.delivery.output_file import write_over
from inspector.delivery.plan_file import choice_from_json, choice_to_json
from inspector.delivery.statements import statements_from_json, statements_to_json
from inspector.delivery.types import Choice
from inspector.report.curves import PANELS
from inspector.report.frame_rows import Place
from inspector.safe_open import read_place, refuse_others
from inspector.sequence.discovery.settings import Settings, fraction_of_json
from inspector.tui.pictures.render_modes import Look
from inspector.tui.view_state import Sights, sights_from_json, sights_to_json
from inspector.tui.widgets.columns import COLUMNS, FILTERS, Arrangement

FORMAT = 1
_FOLDERS = 50  # of which something is kept; the ones left longest ago are forgotten
_FAULTS = (OSError, ValueError, TypeError, KeyError, AttributeError, IndexError, ArithmeticError, RecursionError)
_PRIVATE = 0o700


def state_file() -> Path:
    """In the user's state folder: XDG base directory specification 0.8, or the system's own place."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = str(Path.home() / "Library" / "Application Support")
    else:
        base = os.environ.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
    return Path(base) / "meshqc" / "state.json"


@dataclass(frozen=True, slots=True)
class Kept:
    """Of one folder. sequence: key of the one that was shown; the rest as in Session. choices: what was staged and not
    written."""

    sequence: str = ""
    place: Place | None = None
    arrangement: Arrangement = field(default_factory=Arrangement)
    panel: int = 0
    look: Look = Look.SHADED
    marks: Mapping[str, list[Fraction]] = field(default_factory=dict)
    sights: Mapping[str, Sights] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()
    stated: Settings = field(default_factory=Settings)


def last_folder() -> Path | None:
    """The folder that was open last, if it is still there."""
    with contextlib.suppress(*_FAULTS):
        folder = Path(_read()["last"])
        return folder if folder.is_dir() else None
    return None


def kept_of(folder: Path) -> Kept:
    """What was kept of a folder; nothing where there is none, or where it can't be understood."""
    with contextlib.suppress(*_FAULTS):
        return _from_json(_read()["folders"][str(folder)])
    return Kept()


def keep(folder: Path, kept: Kept) -> None:
    """Keep it, with what is kept of other folders. Where that can't be written, the program goes on without."""
    try:
        folders = dict(_read()["folders"])
    except _FAULTS:
        folders = {}
    folders.pop(str(folder), None)
    folders[str(folder)] = _to_json(kept)
    document = {"format": FORMAT, "last": str(folder), "folders": dict(list(folders.items())[-_FOLDERS:])}
    path = state_file()
    with contextlib.suppress(OSError):
        path.parent.mkdir(mode=_PRIVATE, parents=True, exist_ok=True)
        refuse_others(path.parent)
        write_over(path, json.dumps(document, default=str).encode())


def _read() -> Any:
    path = state_file()
    refuse_others(path.parent)
    document = json.loads(read_place(Path(os.path.realpath(path.parent)) / path.name))
    if document["format"] != FORMAT:
        raise ValueError("format")
    return document


def _to_json(kept: Kept) -> dict[str, object]:
    return {
        "sequence": kept.sequence,
        "place": None if kept.place is None else [str(kept.place[0]), kept.place[1]],
        "arrangement": asdict(kept.arrangement),
        "panel": kept.panel,
        "look": kept.look.value,
        "marks": {key: [str(number) for number in numbers] for key, numbers in kept.marks.items()},
        "sights": {key: sights_to_json(sights) for key, sights in kept.sights.items()},
        "choices": [choice_to_json(choice) for choice in kept.choices],
        "stated": statements_to_json(kept.stated),
    }


def _from_json(entry: Any) -> Kept:
    """Raises one of _FAULTS for what this program didn't write."""
    place = entry["place"]
    arrangement = Arrangement(**entry["arrangement"])
    if arrangement.filter not in range(len(FILTERS)) or arrangement.column not in range(len(COLUMNS)):
        raise ValueError("arrangement")
    return Kept(
        str(entry["sequence"]),
        None if place is None else (fraction_of_json(place[0]), int(place[1])),
        arrangement,
        int(entry["panel"]) % len(PANELS),
        Look(entry["look"]),
        {str(key): [fraction_of_json(number) for number in numbers] for key, numbers in entry["marks"].items()},
        {str(key): sights_from_json(sights) for key, sights in entry.get("sights", {}).items()},  # new in this format
        tuple(map(choice_from_json, entry["choices"])),
        statements_from_json(entry["stated"]),
    )
