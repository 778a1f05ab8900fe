"""Tests of defects that are planted in sequences from outside the project.

Run by hand: `MESHQC_REAL=FOLDER pytest -m real`.

Defects that are not yet reported correctly are listed as `missed` in the folder's `expected.toml`.
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
