"""Timings by hand, with as many threads of the algebra library as the command has."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
