"""Tests of files that can't be read as frames. All examples were observed in public data."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import MeshqcError
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.reader import read_frame
from inspector.sequence.run.scan import load_frame
from tests.helpers.obj_lines import FACE, VT, V, reported

REFUSED = {
    "nothing": (b"", "empty", 1),
    "only blanks": (b" \n\t\r\n\n", "empty", 1),
    "only a mark": (b"\xef\xbb\xbf", "no-mesh", 1),
    "faces without vertices": (b"o manta\nusemtl skin\nf 1 2 3\n", "no-mesh", 1),
    "gzip": (b"\x1f\x8b\x08\x00" + bytes(30), "compressed", 1),
    "zip": (b"PK\x03\x04" + bytes(30), "compressed", 1),
    "HTML": (b"<!DOCTYPE html>\n<html>\n<body>\n404 Not Found\n</body>\n</html>\n", "foreign", 1),
    "JSON": (b'{\n "error": "quota exceeded"\n}\n', "foreign", 1),
    "object file of a compiler (ELF)": (b"\x7fELF\x02\x01\x01" + bytes(57), "object-file", 1),
    "object file of a compiler (COFF)": (b"\x64\x86\x03\x00\x11\x22" + bytes(60), "object-file", 1),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "foreign", 3),
    "odd bytes of UTF-16": (b"\xff\xfev\x00 ", "foreign", 1),
    "a run of NUL bytes inside": (V + bytes(4096) + FACE, "nul-run", 4),
    "a run of NUL bytes to the end": (V + b"f 1 2" + bytes(4096), "nul-run", 4),
    "nothing but NUL bytes": (bytes(4096), "nul-run", 1),
    "cut in a vertex": (b"v 0 0 0\nv 1 0 0\nv 0 1", "cut-off", 3),
    "cut behind the keyword of a vertex": (b"v 0 0 0\nv 1 0 0\nv", "cut-off", 3),
    "cut in a number": (b"v 0.00 0.00 0.00\n" * 9 + b"v 0.25 0.00 0.7", "cut-off", 10),
    "cut behind a point": (b"v 0.00 0.00 0.00\n" * 9 + b"v 0.25 0.00 0.", "cut-off", 10),
    "cut in a UV": (V + b"vt 0.5 0.5\nvt 0.5", "cut-off", 5),
    "cut in a normal": (V + b"vn 0 0 1\nvn 0", "cut-off", 5),
    "cut in a face": (V + FACE + b"f 2 4", "cut-off", 5),
    "cut behind a slash": (V + VT + b"f 1/1 2/2 3/", "cut-off", 7),
    "cut in a corner": (V + VT + b"f 1/1 2/2 3", "cut-off", 7),
    "cut behind a minus": (V + b"f -3 -2 -", "cut-off", 4),
    "cut in a keyword": (V + b"usem", "cut-off", 4),
    "cut in a continued face": (V + FACE + b"f 1 \\\n2", "cut-off", 5),
    "cut in a face, CRLF": ((V + FACE + b"f 2 4").replace(b"\n", b"\r\n"), "cut-off", 5),
    "cut in a face, CR": ((V + FACE + b"f 2 4").replace(b"\n", b"\r"), "cut-off", 5),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_frame_is_refused_with_its_reason_and_line(name: str) -> None:
    text, kind, line = REFUSED[name]
    with pytest.raises(UnreadableFrame) as caught:
        read_frame(text)
    assert caught.value.problem.kind == kind
    assert caught.value.problem.places[0].line == line


@pytest.mark.parametrize(
    "text",
    [
        V + b"f 1 2 3",
        V + b"f 1 2 3  ",
        V + b"f 1 \\\n2 3",
        V + VT + b"f 1/1 2/2 3/3",
        b"f 1 2 3\n" + V[:-1],
        b"v 0.5 1.25 3\nv 1.5 2 0.75\nv 1 0 0",  # no padding with zeros: a short number is not a cut
        V + FACE + b"usemtl skin",
        V + FACE + b"# exported",
        V + FACE + b"\t",
    ],
)
def test_a_whole_last_line_without_its_end_is_no_cut(text: bytes) -> None:
    assert set(reported(read_frame(text))) - {"continued-line"} == {"no-final-newline"}


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("kelp.0001.off", b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 99999999999999999999\n"),
        ("kelp.0001.ply", b"ply\nformat ascii 1.0\nelement vertex " + b"9" * 5000 + b"\nend_header\n"),
        (
            "kelp.0001.ply",
            b"ply\nformat ascii 1.0\nelement vertex 99999999999999999999\nproperty int x\nend_header\n",
        ),
    ],
)
def test_a_number_without_bounds_is_one_frame_s_problem(tmp_path: Path, name: str, data: bytes) -> None:
    """Python converts at most 4,300 digits to an int (CPython documentation, int maximum string conversion length)."""
    (tmp_path / name).write_bytes(data)
    with pytest.raises(MeshqcError, match=r"kelp\.0001"):
        load_frame(tmp_path / name)
