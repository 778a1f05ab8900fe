"""Tests of `file-size`. The measured sizes are replaced, because writing 100 MB takes too long."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from inspector.checks.base.finding import Finding
from inspector.checks.base.registry import all_checks
from inspector.checks.base.runner import run_checks
from inspector.checks.files.file_size import CHECK
from inspector.inspection.inspection import Inspection, inspect_folder
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import build_series
from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, frames, look, shot


def sized(facts: FrameFacts, size: int, vertices: int | None = None) -> FrameFacts:
    return replace(facts, vertices=vertices or facts.vertices, file=replace(facts.file, size=size))


def of_large(inspection: Inspection, size: int) -> list[Finding]:
    series = build_series(inspection.sequence, [sized(one, size, 200_000) for one in inspection.series.facts])
    return list(CHECK.run(replace(inspection.context, series=series)))


def test_digits_that_single_precision_does_not_hold(tmp_path: Path) -> None:
    """binary32 needs 9 significant digits (IEEE 754, conversion to decimal and back). With one digit before the decimal
    point, 8 of the 20 decimal places are significant, and 12 are superfluous."""
    texts = {n: wing(n).text(20) for n in range(1, 13)}
    (finding,) = of_large(look(tmp_path, MATERIALS | frames(texts)), 20_000_000)
    assert (finding.severity.word, len(finding.frames)) == ("note", 12)
    assert finding.numbers == {"bytes": 240_000_000, "needed": 240_000_000 - 12 * 3 * 200_000 * 12}
    assert finding.fixes == ("reduce-decimals",)


def test_a_still_object(tmp_path: Path) -> None:
    def large(folder: Path) -> Inspection:
        (inspection,) = inspect_folder(folder).inspections
        series = build_series(inspection.sequence, [sized(one, 20_000_000) for one in inspection.series.facts])
        context = replace(inspection.context, series=series)
        return Inspection(context, run_checks(context, all_checks()))

    _, inspection = broken(
        tmp_path,
        "file-size",
        MATERIALS | frames({n: wing(0) for n in range(1, 13)}),
        companions={"frozen": "that nothing moves is noted"},
        inspect=large,
    )
    finding = finding_of(inspection, "file-size")
    assert finding.message == (
        "the files take up 240 MB, but 20 MB would be enough: nothing moves, so a single frame shows everything"
    )
    assert finding.fixes == ()


@pytest.mark.parametrize("size", [5_000_000, 20_000_000])
def test_large_for_a_reason_is_healthy(size: int, tmp_path: Path) -> None:
    assert of_large(look(tmp_path, shot()), size) == []


@pytest.mark.parametrize(
    ("size", "found"), [(8_300_000, False), (8_400_000, True), (35_000_000, True), (37_500_000, False)]
)
def test_from_which_size_and_saving_on_it_is_a_note(size: int, found: bool, tmp_path: Path) -> None:
    """In the four cases, the twelve files take up 99.6, 100.8, 420 and 450 MB together. The note requires at least 100
    MB (WASTE_BYTES). The superfluous digits take up 86.4 MB, which must be at least a fifth of the total (WASTE_SHARE),
    so the total may be up to 432 MB."""
    texts = {n: wing(n).text(20) for n in range(1, 13)}
    assert bool(of_large(look(tmp_path, MATERIALS | frames(texts)), size)) is found
