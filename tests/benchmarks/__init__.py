"""Benchmarks, run by hand. The algebra library uses one thread, as in the command."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
