"""A replacement for `os.fsync`, so that tests don't wait for the disk.

It takes about 10 ms to confirm a file, and a run of all tests writes thousands of files. No test sees what would
survive a power cut. A Python process that a test starts does wait, as a user's process does.
"""

from __future__ import annotations

import os


def do_not_wait() -> None:
    """Replace `os.fsync` in this process and its forks. The replacement still refuses a descriptor that is not open."""
    os.fsync = _refuse_what_is_not_open


def _refuse_what_is_not_open(descriptor: int) -> None:
    os.fstat(descriptor)
