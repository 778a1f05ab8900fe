"""Functions that the tests run on a chunk of frames. Worker processes must be able to import these functions."""

from __future__ import annotations

import os
import signal
import time

from inspector.sequence.run.chunks import Chunk
from inspector.sequence.run.executors import Measured, measure_chunk
from inspector.sequence.run.scan import Measurer


def die_over_frame_7(measurer: Measurer, chunk: Chunk) -> Measured:
    """Kill the process if the chunk contains frame 7, as if the process had run out of memory."""
    if any(file.number == 7 for file in chunk.files):
        os.kill(os.getpid(), signal.SIGKILL)
    return measure_chunk(measurer, chunk)


def never_end(measurer: Measurer, chunk: Chunk) -> Measured:
    time.sleep(600)
    return measure_chunk(measurer, chunk)


def only_if_nice(measurer: Measurer, chunk: Chunk) -> Measured:
    """Exit unless this process has a lower priority than its parent (POSIX, nice)."""
    if os.nice(0) <= os.getpriority(os.PRIO_PROCESS, os.getppid()):
        os._exit(1)
    return measure_chunk(measurer, chunk)
