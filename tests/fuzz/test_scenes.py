"""Tests of every operation on random small scenes, and of random deliveries.

To test thousands of cases, run `python -m tests.helpers.fuzz.scenes` and `python -m tests.helpers.fuzz.deliveries` by
hand.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.fixes.base.registry import all_fixes
from inspector.inspection.inspection import inspect_folder
from tests.helpers.fuzz import deliveries, scenes, written_scenes
from tests.helpers.fuzz.by_hand import Case, run_cases
from tests.helpers.sequences import write


@pytest.mark.parametrize(("run", "cases"), [(scenes.run_case, 20), (deliveries.run_case, 20)])
def test_random_cases(run: Case, cases: int) -> None:
    seed = random.SystemRandom().randrange(10**9)
    print(f"seed {seed}, {cases} cases")  # pytest shows it if the test fails
    failed, tried = run_cases(run, 0, cases, seed)
    assert not failed, failed
    assert tried.total() >= cases // 4, tried


def test_every_fix_states_what_it_may_change_here_too() -> None:
    touches, ids = deliveries.TOUCHES.keys(), {fix.id for fix in all_fixes()}
    assert not touches & deliveries.NOT_COMPARED
    assert touches | deliveries.NOT_COMPARED == ids, "add the fix to TOUCHES (or NOT_COMPARED) of fuzz/deliveries.py"


def test_one_other_digit_is_noticed(tmp_path: Path) -> None:
    write(tmp_path / "in", written_scenes.scene(random.Random("7")))
    plan = make_plan(inspect_folder(tmp_path / "in"), [Choice("scale", {"factor": 0.01})])
    deliver(plan, tmp_path / "out")
    assert deliveries.compare(tmp_path / "in", tmp_path / "out") == {"scale"}
    frame = tmp_path / "out" / "kelp.0002.obj"
    good = frame.read_bytes()
    for keyword in (b"v", b"vt", b"f"):
        line = next(line for line in good.splitlines() if line.startswith(keyword + b" "))
        digit = line.find(b".") + 1 or len(line) - 1  # the first decimal place, or the last index
        other = line[:digit] + (b"3" if line[digit : digit + 1] == b"2" else b"2") + line[digit + 1 :]
        frame.write_bytes(good.replace(line, other, 1))
        with pytest.raises(AssertionError):
            deliveries.compare(tmp_path / "in", tmp_path / "out")
