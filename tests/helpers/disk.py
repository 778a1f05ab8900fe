"""A replacement for `os.fsync`, so that tests don't wait for the disk.

Each call of `os.fsync` takes about 10 ms, and the tests write thousands of files. No test checks what would survive a
power cut.

Python processes that a test starts still wait for the disk.
"""

from __future__ import annotations

import os


def do_not_wait() -> None:
    """Replace `os.fsync` in this process and its forks. The replacement still refuses a descriptor that is not open."""
    os.fsync = _refuse_what_is_not_open


def _refuse_what_is_not_open(descriptor: int) -> None:
    os.fstat(descriptor)
