"""short-faces: faces of two corners (format document, appendix B1: at least three)."""

from __future__ import annotations

from pathlib import Path

from tests.checks.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    """Companion: a face more than the other frames have."""
    said, inspection = broken(tmp_path, "short-faces", shot() | {"manta.0005.obj": TEXT + b"f 1/1 2/2\n"})
    assert said == [("face-count", "error", [5.0]), ("short-faces", "error", [5.0])]
    same_form(inspection, "short-faces", "short-face")
