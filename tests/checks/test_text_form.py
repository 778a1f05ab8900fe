"""text-form: forms that this reader takes and others stumble over (format facts, section 3)."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.checks.base.finding import Severity
from tests.checks.one_thing import broken
from tests.helpers.meshes import wing
from tests.helpers.sequences import finding_of, shot

TEXT = wing(5).text()
FACE = b"f 1/1 2/2 7/5 6/4"

FORMS = {
    "mixed-corners": (TEXT.replace(FACE, b"f 1/1/1 2/2 7/5 6/4").replace(b"usemtl", b"vn 0 1 0\nusemtl"), "error"),
    "short-face": (TEXT + b"f 1/1 2/2\n", "error"),
    "vn-index-range": (TEXT.replace(FACE, b"f 1/1/9 2/2/9 7/5/9 6/4/9"), "warning"),
    "empty-slot": (TEXT.replace(FACE, b"f 1/1/ 2/2/ 7/5/ 6/4/"), "warning"),
    "partial-extras": (TEXT.replace(b"\nv", b" 1 0 0\nv", 2).replace(b"manta 1 0 0", b"manta"), "warning"),
    "superseded": (TEXT.replace(FACE, b"fo" + FACE[1:]), "warning"),
    "not-polygonal": (TEXT + b"l 1 2 3\n", "warning"),
    "unknown-statement": (TEXT + b"glow 3\n", "warning"),
    "acting-statement": (TEXT + b"call other.obj\n", "warning"),
    "byte-order-mark": (b"\xef\xbb\xbf" + TEXT, "warning"),
    "wide-text": (TEXT.decode().encode("utf-16"), "warning"),
    "bare-returns": (TEXT.replace(b"\n", b"\r"), "warning"),
    "mixed-newlines": (TEXT.replace(b"\n", b"\r\n", 5), "warning"),
    "comment-behind-data": (TEXT.replace(FACE, FACE + b" # nose"), "warning"),
    "relative-index": (TEXT.replace(FACE, b"f -20/-24 2/2 7/5 6/4"), "info"),
    "continued-line": (TEXT.replace(FACE, b"f 1/1 2/2 \\\n7/5 6/4"), "info"),
    "no-final-newline": (TEXT[:-1], "info"),
}


@pytest.mark.parametrize("kind", FORMS)
def test_one_form(kind: str, tmp_path: Path) -> None:
    text, severity = FORMS[kind]
    said, inspection = broken(tmp_path, "text-form", shot() | {"manta.0005.obj": text})
    companions = {"short-face": {("face-count", "error", (5.0,))}}.get(kind, set())
    assert {(check, word, tuple(numbers)) for check, word, numbers in said} == {
        ("text-form", severity, (5.0,)),
        *companions,
    }
    finding = finding_of(inspection, "text-form")
    assert finding.numbers["kind"] == kind
    assert finding.where[0].line is not None


def test_many_corners(tmp_path: Path) -> None:
    text = TEXT + b"f" + b" 1/1 2/2 7/5" * 86 + b"\n"
    said, _ = broken(tmp_path, "text-form", shot() | {"manta.0005.obj": text})
    assert ("text-form", "warning", [5.0]) in said


def test_a_form_that_all_frames_have_is_one_finding(tmp_path: Path) -> None:
    files = {name: data.replace(b"\n", b"\r") if name.endswith(".obj") else data for name, data in shot().items()}
    _, inspection = broken(tmp_path, "text-form", files)
    (finding,) = inspection.findings
    assert (finding.severity, len(finding.frames)) == (Severity.WARNING, 12)
