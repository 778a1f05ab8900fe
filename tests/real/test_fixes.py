"""Tests of the fixes on sequences from outside the project. Run by hand: `MESHQC_REAL=FOLDER pytest -m real`."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import pytest

from inspector import inspect
from inspector.checks.base.finding import Severity
from inspector.delivery.choices import Choice, all_choices, lossless_choices, serious
from inspector.delivery.deliver import deliver
from inspector.delivery.plan import Plan, frame_path
from inspector.delivery.planning import make_plan
from inspector.inspection.inspection import FolderInspection
from tests.helpers.real import VARIABLE, real_folder, real_sequences

pytestmark = [
    pytest.mark.real,
    pytest.mark.timeout(600),
    pytest.mark.skipif(real_folder() is None, reason=f"{VARIABLE} doesn't name a folder with real sequences"),
]

FOLDERS = sorted({one.folder for one in real_sequences() if one.frames})


@lru_cache(maxsize=1)
def inspected(folder: Path) -> FolderInspection:
    return inspect(folder)


@pytest.mark.parametrize("choose", [lossless_choices, all_choices])
@pytest.mark.parametrize("folder", FOLDERS or [Path()], ids=lambda folder: folder.name)
def test_nothing_gets_worse(
    folder: Path, choose: Callable[[FolderInspection], tuple[Choice, ...]], tmp_path: Path
) -> None:
    before = inspected(folder)
    plan = make_plan(before, choose(before))
    if not plan.steps:
        return
    delivery = deliver(plan, tmp_path / "out")
    assert delivery.proof.new == ()
    for severity in (Severity.ERROR, Severity.WARNING):
        assert delivery.after.count(severity) <= before.count(severity)
    assert changed_without_a_finding(plan, tmp_path / "out") == []


def changed_without_a_finding(plan: Plan, out: Path) -> list[str]:
    changed = []
    for one in plan.sequences:
        answered = {number for finding in serious(one.inspection) for number in finding.frames}
        for output in one.outputs:
            source = one.inspection.series.facts[output.sources[0]].file.path
            place = frame_path(one, output)
            if output.number not in answered and (out / place).read_bytes() != source.read_bytes():
                changed.append(place)
    return changed
