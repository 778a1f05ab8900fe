"""Where the corrected folder goes."""

from __future__ import annotations

from pathlib import Path

from inspector.tui.prompt import Values


def suggested_folder(source: Path) -> Path:
    """`<folder>_fixed` beside the source; with a number behind it where that exists already."""
    plain = source.parent / f"{source.name}_fixed"
    candidates = [plain, *(source.parent / f"{source.name}_fixed_{number}" for number in range(2, 1000))]
    return next((path for path in candidates if not path.exists()), plain)


def folder_fault(values: Values) -> str | None:
    """What can be told before the work begins; the rest is up to the delivery, which refuses with the reason."""
    text = values["to"]
    if not text:
        return "a folder that does not exist yet"
    if typed_folder(text).exists():
        return "this exists already; the corrected folder must be a new one"
    return None


def typed_folder(text: str) -> Path:
    return Path(text).expanduser().absolute()
