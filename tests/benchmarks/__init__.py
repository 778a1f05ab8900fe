"""Benchmarks, run by hand. As in the `meshqc` command, the linear algebra library uses one thread."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
