"""Benchmarks, run by hand."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
