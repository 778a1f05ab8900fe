"""Tests of `bad-number`. The forms of numbers were observed in public data."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.broken.text import LINE, SECOND, TEXT
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, shot


@pytest.mark.parametrize(
    ("line", "kind", "fixes"),
    [
        (b"v nan 0 0", "bad-number", ("fill-frames",)),
        (b"v 0 1e999 0", "bad-number", ("fill-frames",)),
        (b"v 0 0 -1.#IND", "bad-number", ("fill-frames",)),
        (b"v 0 0,25 0", "decimal-comma", ("decimal-commas", "fill-frames")),
        (b"v 0 0", "few-numbers", ("fill-frames",)),
    ],
)
def test_one_vertex(line: bytes, kind: str, fixes: tuple[str, ...], tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": TEXT.replace(SECOND, line)}
    said, inspection = broken(tmp_path, "bad-number", files)
    assert said == [("bad-number", "error", [5.0])]
    finding = finding_of(inspection, "bad-number")
    assert finding.fixes == fixes
    assert finding.numbers == {"kind": kind, "places": 1}
    assert [(where.file.raw, where.line) for where in finding.where] == [(b"manta.0005.obj", LINE)]
