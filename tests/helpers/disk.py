"""The disk is not waited for: it takes some 10 ms to confirm a file, thousands of times in a run of all tests, and what
would survive a power cut is seen by no test. A process that Python starts for a test does wait, as a user's does.
"""

from __future__ import annotations

import os


def do_not_wait() -> None:
    """Replace os.fsync in this process and its forks; it still refuses what is not an open file."""
    os.fsync = _refuse_what_is_not_open


def _refuse_what_is_not_open(descriptor: int) -> None:
    os.fstat(descriptor)
