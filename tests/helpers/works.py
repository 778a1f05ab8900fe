"""What the workers of the tests do with a chunk: importable, since other processes run it."""

from __future__ import annotations

import os
import signal
import time

from inspector.sequence.run.chunks import Chunk
from inspector.sequence.run.executors import Measured, measure_chunk
from inspector.sequence.run.scan import Measurer


def die_over_frame_7(measurer: Measurer, chunk: Chunk) -> Measured:
    """As a reader that runs out of memory over one file."""
    if any(file.number == 7 for file in chunk.files):
        os.kill(os.getpid(), signal.SIGKILL)
    return measure_chunk(measurer, chunk)


def never_end(measurer: Measurer, chunk: Chunk) -> Measured:
    time.sleep(600)
    return measure_chunk(measurer, chunk)


def only_if_nice(measurer: Measurer, chunk: Chunk) -> Measured:
    """Dies unless this process gives way to the one that it comes from (POSIX, nice)."""
    if os.nice(0) <= os.getpriority(os.PRIO_PROCESS, os.getppid()):
        os._exit(1)
    return measure_chunk(measurer, chunk)
