"""What is told of an error that nobody foresaw."""

from __future__ import annotations

import traceback
from pathlib import Path

from inspector.names import safe


def mistake_text(error: BaseException) -> str:
    """`a mistake in meshqc itself (scan.py:12): KeyError: ...`; the place is the innermost one."""
    frames = traceback.extract_tb(error.__traceback__)
    place = f" ({Path(frames[-1].filename).name}:{frames[-1].lineno})" if frames else ""
    return f"a mistake in meshqc itself{place}: {type(error).__name__}: {safe(str(error))}"
