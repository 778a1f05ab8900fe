"""Where the corrected folder goes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from inspector.names import safe


@dataclass(frozen=True, slots=True)
class OutputFolder:
    """suggested: its safe form is shown, and taken as the folder itself where nobody changes it."""

    suggested: Path

    @property
    def shown(self) -> str:
        return safe(str(self.suggested))

    def typed(self, text: str) -> Path:
        return self.suggested if text == self.shown else Path(text).expanduser().absolute()

    def fault(self, text: str) -> str | None:
        """What can be told before the work begins; the rest is up to the delivery, which refuses with the reason."""
        if not text:
            return "type a folder that does not exist yet"
        if self.typed(text).exists():
            return "already exists; choose another name"
        return None
