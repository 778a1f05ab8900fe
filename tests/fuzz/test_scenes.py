"""Sixty random small scenes through checks, texture fit, template, pictures and report.

By hand, tens of thousands: `python -m tests.helpers.fuzz.scenes`.
"""

from __future__ import annotations

import random

from tests.helpers.fuzz.scenes import run_cases


def test_random_scenes() -> None:
    seed = random.SystemRandom().randrange(10**9)
    print(f"seed {seed}, 60 scenes")  # pytest shows it where the test fails
    run_cases(60, seed)
