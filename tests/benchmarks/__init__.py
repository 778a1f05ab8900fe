"""Benchmarks that are run by hand. The algebra library has as many threads as in the command."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
