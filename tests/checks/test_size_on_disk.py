"""size-on-disk: files far larger than what they say. Sizes are stated, not written: 100 MB take a while."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from inspector.checks.base.finding import Finding
from inspector.checks.base.inspect import Inspection
from inspector.checks.size_on_disk import CHECK
from inspector.sequence.series import build_series
from tests.checks.one_thing import broken
from tests.helpers.meshes import wing
from tests.helpers.sequences import MATERIALS, frames, shot


def as_if(inspection: Inspection, vertices: int, size: int) -> list[Finding]:
    """What the check says if each frame had so many vertices and bytes."""
    facts = [replace(one, vertices=vertices, file=replace(one.file, size=size)) for one in inspection.series.facts]
    series = build_series(inspection.sequence, facts)
    return list(CHECK.run(replace(inspection.evidence, series=series)))


def test_digits_that_single_precision_does_not_hold(tmp_path: Path) -> None:
    """binary32 needs 9 significant digits (IEEE 754, conversion to decimal and back); with a whole digit before the
    point 8 of the 20 decimals count, and 12 bytes a number are spare."""
    texts = {n: wing(n).text(20) for n in range(1, 13)}
    said, inspection = broken(tmp_path, "size-on-disk", MATERIALS | frames(texts))
    assert said == []
    (finding,) = as_if(inspection, 200_000, 20_000_000)
    assert (finding.severity.word, len(finding.frames)) == ("info", 12)
    assert finding.numbers == {"bytes": 240_000_000, "needed": 240_000_000 - 12 * 3 * 200_000 * 12}
    assert finding.fixes == ("slim",)


def test_a_still_object(tmp_path: Path) -> None:
    _, inspection = broken(tmp_path, "size-on-disk", MATERIALS | frames({n: wing(0) for n in range(1, 13)}))
    (finding,) = as_if(inspection, 20, 20_000_000)
    assert finding.message == "240 MB where 20 MB would do: nothing moves, one frame would do"
    assert finding.fixes == ()


@pytest.mark.parametrize("size", [5_000_000, 20_000_000])
def test_large_for_a_reason_is_healthy(size: int, tmp_path: Path) -> None:
    _, inspection = broken(tmp_path, "size-on-disk", shot())
    assert as_if(inspection, 200_000, size) == []
