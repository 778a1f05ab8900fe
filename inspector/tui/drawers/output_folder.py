"""The path of the corrected folder, as suggested or as typed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from inspector.names import safe


@dataclass(frozen=True, slots=True)
class OutputFolder:
    """A suggested path for a new folder.

    The user sees the path as text, with unsafe characters escaped, and may change the text. If the user doesn't change
    the text, the suggested path itself is used.

    Attributes:
        suggested: The suggested path.
    """

    suggested: Path

    @property
    def shown(self) -> str:
        return safe(str(self.suggested))

    def typed(self, text: str) -> Path:
        """Return the path that the typed text names. If the text is unchanged, return the suggested path."""
        return self.suggested if text == self.shown else Path(text).expanduser().absolute()

    def fault(self, text: str) -> str | None:
        """Return the problem with the typed text; None if no problem is known before writing begins.

        Writing may still fail for another reason.
        """
        if not text:
            return "type the path of a new folder"
        if self.typed(text).exists():
            return "this path already exists; choose another name"
        return None
