"""The path of the corrected folder, as suggested or typed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from inspector.names import safe


@dataclass(frozen=True, slots=True)
class OutputFolder:
    """A suggested path. The user sees it in its safe form; if the user doesn't change that text, the path itself is
    used.

    Attributes:
        suggested: The suggested path.
    """

    suggested: Path

    @property
    def shown(self) -> str:
        """The suggested path in its safe form."""
        return safe(str(self.suggested))

    def typed(self, text: str) -> Path:
        """Return the path that a typed text represents."""
        return self.suggested if text == self.shown else Path(text).expanduser().absolute()

    def fault(self, text: str) -> str | None:
        """Return the problem with a typed text, or None if no problem is known before the work begins.

        The delivery finds all other problems, and reports the reason when it refuses.
        """
        if not text:
            return "type the path of a new folder"
        if self.typed(text).exists():
            return "already exists; choose another name"
        return None
