"""Delivery rules from TOML text."""

from __future__ import annotations

from pathlib import Path

from inspector.inspection.folder_rules import load_rules
from inspector.rules.model import Rules


def rules_of(folder: Path, text: str) -> Rules:
    file = folder / "stated.toml"
    file.write_text(text, encoding="utf-8")
    return load_rules(folder, file)
