"""Defects planted into sequences that nobody here made are answered by the right cause on the right frame.

By hand: `MESHQC_REAL=FOLDER pytest -m real`. What isn't yet is listed in the folder's `expected.toml`, as `missed`.
"""

from __future__ import annotations

import pytest

from tests.helpers.real import VARIABLE, RealSequence, real_folder, real_sequences
from tests.helpers.real_bodies import long_enough
from tests.real.defects import judged

pytestmark = [
    pytest.mark.real,
    pytest.mark.timeout(3600),
    pytest.mark.skipif(real_folder() is None, reason=f"{VARIABLE} doesn't name a folder with real sequences"),
]


@pytest.mark.parametrize(
    "sequence",
    [one for one in real_sequences() if long_enough(one)] or [None],
    ids=lambda one: one.name if one else "none",
)
def test_planted_defects(sequence: RealSequence) -> None:
    every = list(judged(sequence))
    assert len(every) > 20
    assert {one.cell.kind for one in every if not one.right} == sequence.missed
