"""Tests of all checks on meshes with extreme numbers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.registry import all_checks
from tests.helpers.broken.uvs import uvs_renumbered
from tests.helpers.meshes import Mesh, plain, wing
from tests.helpers.sequences import MATERIALS, frames, look


def spread(size: float, n: int) -> Mesh:
    mesh = wing(n)
    return mesh.edit(positions=mesh.positions * size)


MESHES = {
    "huge": lambda n: spread(1e300, n).text(),
    "beyond what a square can hold": lambda n: spread(1e307 * (1 + n % 2), n).text(),
    "tiny": lambda n: spread(1e-300, n).text(decimals=310),
    "one point": lambda _: plain(np.zeros((1, 3)), []).text(),
    "all in one place": lambda n: spread(0.0, n).text(),
    "on a line": lambda n: plain(np.outer(np.arange(4.0), [1, 1, 1]) * n, [(0, 1, 2, 3)]).text(),
    "nothing but bad numbers": lambda _: b"v nan nan nan\n" * 4 + b"f 1 2 3\n",
    "UVs out of all bounds": lambda n: wing(n).edit(uvs=wing(n).uvs * 1e300 * n).text(),
    "UVs at both ends": lambda n: wing(n).edit(uvs=np.full((24, 2), 1.7e308 * (-1) ** n)).text(),
    "UVs at both ends, other numbers": lambda n: (
        uvs_renumbered(wing(n).edit(uvs=np.full((24, 2), 1.7e308))).text()
        if n == 5
        else wing(n).edit(uvs=np.full((24, 2), -1.7e308)).text()
    ),
    "places at both ends": lambda n: wing(n).edit(positions=np.full((20, 3), 1.7e308 * (-1) ** n)).text(),
    "a box from end to end": lambda n: wing(n).text() + b"v -1.7e308 0 0\nv 1.7e308 0 0\n",
    "bad UVs": lambda n: wing(n).text().replace(b"vt 0.2", b"vt nan"),
    "no face with corners": lambda _: b"v 0 0 0\nf\nf\n",
    "every second frame empty": lambda n: b"" if n % 2 else wing(n).text(),
    "only the last one readable": lambda n: wing(n).text() if n == 9 else b"<html>\n",
}


@pytest.mark.parametrize("what", MESHES)
@pytest.mark.parametrize("size", [None, 4.0])
def test_every_check_runs(what: str, size: float | None, tmp_path: Path) -> None:
    inspection = look(tmp_path, MATERIALS | frames({n: MESHES[what](n) for n in range(1, 10)}), size=size)
    skipped = dict(inspection.verdict.skipped)
    assert skipped.keys() <= {check.id for check in all_checks()}
    for finding in inspection.findings:
        numbers = [value for value in finding.numbers.values() if isinstance(value, float)]
        unbounded = f"{finding.check}: a number is not finite; raise NotApplicable, or measure it without overflow"
        assert np.isfinite(numbers).all(), f"{unbounded}: {finding.numbers}"
