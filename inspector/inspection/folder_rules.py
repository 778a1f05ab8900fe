"""Find and read the rules that apply to a folder."""

from __future__ import annotations

import os
from pathlib import Path

from inspector.checks.base.registry import all_checks
from inspector.rules.find import find_rules
from inspector.rules.model import Rules
from inspector.rules.read import read_rules


def load_rules(folder: Path, file: Path | None = None) -> Rules:
    """Load the rules that apply to a folder.

    Args:
        folder: The folder.
        file: The rules file; None for the nearest meshqc.toml in the folder or the folders above it, if there is one.

    Raises:
        MeshqcError: The rules file can't be read, its content is wrong, or it is a link in the folder itself that leads
            out of the folder.
    """
    found = find_rules(folder) if file is None else Path(os.path.realpath(file))
    return Rules() if found is None else read_rules(found, {check.id: check.settable_names for check in all_checks()})
