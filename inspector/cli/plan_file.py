"""Plans as files, for the next export."""

from __future__ import annotations

import os
from pathlib import Path

from inspector.delivery.destination import refuse_unwritable
from inspector.delivery.output_file import write_over
from inspector.delivery.plan import Plan
from inspector.delivery.plan_file import SavedPlan, plan_from_json, plan_to_json
from inspector.errors import MeshqcError, Refusal
from inspector.names import Name
from inspector.safe_open import read_file
from inspector.sequence.discovery.scope import Scope


def read_plan(path: Path) -> SavedPlan:
    """What a plan file holds. Raises MeshqcError that names the file."""
    name = Name.from_path(path)
    try:
        return plan_from_json(read_file(path).decode())
    except OSError as error:
        raise MeshqcError(f"{name}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise MeshqcError(f"{name}: no plan, for it is not UTF-8 text") from error
    except MeshqcError as error:
        raise MeshqcError(f"{name}: {error}") from error


def save_plan(path: Path, plan: Plan, source: Path) -> None:
    """Write the plan under a name that nothing has, or in the place of another plan, in one go. Raises as
    `refuse_save`."""
    refuse_save(path, source)
    write_over(path, plan_to_json(plan).encode("ascii"))


def refuse_save(path: Path, source: Path) -> None:
    """Raises Refusal where something else than a plan is there, and for a place inside the source folder; MeshqcError
    for a folder that isn't there or can't be written to."""
    name = Name.from_path(path)
    if not path.parent.is_dir():
        raise MeshqcError(f"{Name.from_path(path.parent)}: no such folder; make it first")
    if Scope(source).contains(path):
        raise Refusal(f"{name}: lies inside the folder to correct, where nothing is written; choose another place")
    if os.path.lexists(path) and not _is_plan(path):
        raise Refusal(f"{name}: is there already and is no plan; choose another name")
    refuse_unwritable(path.parent)


def _is_plan(path: Path) -> bool:
    try:
        read_plan(path)
    except MeshqcError:
        return False
    return True
