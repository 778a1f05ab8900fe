"""Tests of all checks: one cause leads to a single finding."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytest

from inspector import limits
from tests.helpers.meshes import ABSENT, Mesh, plain, torus, with_faces
from tests.helpers.one_thing import TEXT, every
from tests.helpers.sequences import finding_of, frames, heard, look, shot
from tests.helpers.surfaces import EVERY, NUMBERS, lit, sequence

LINES = TEXT.split(b"\n")
FULL = sequence(lit)
LIT = FULL["manta.0005.obj"]


@pytest.mark.parametrize("share", np.arange(0.05, 1.0, 0.05).round(2).tolist())
@pytest.mark.parametrize("with_normals", [False, True])
def test_a_file_cut_anywhere_is_told_of_once(with_normals: bool, share: float, tmp_path: Path) -> None:
    files, text = (FULL, LIT) if with_normals else (shot(), TEXT)
    assert heard(look(tmp_path, files | {"manta.0005.obj": text[: int(share * len(text))]})) == [
        ("unreadable", "error", [5.0])
    ]


@pytest.mark.parametrize("line", range(3, len(LINES) - 2, 4))
def test_a_file_cut_at_the_end_of_a_line(line: int, tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot() | {"manta.0005.obj": b"\n".join(LINES[:line])}))
    assert said == [("unreadable", "error", [5.0])]


@pytest.mark.parametrize("odd", [[1], [12], [4, 5, 6], [1, 2, 3, 4, 5]], ids=str)
def test_several_files_cut_are_one_finding(odd: list[int], tmp_path: Path) -> None:
    cut = {f"manta.{number:04}.obj": TEXT[: 300 + 20 * number] for number in odd}
    assert heard(look(tmp_path, shot() | cut)) == [("unreadable", "error", [float(number) for number in odd])]


RING = torus(60, 40)


def ring(number: int) -> Mesh:
    return RING.edit(positions=RING.positions + np.array([0, 0, 0.1 * number]), smooth="1")


MANY: Mapping[str, tuple[str, Callable[[int], Mesh | bytes]]] = {
    "normal-length": ("a normal each", lambda n: ring(n).edit(normals=RING.normals * 2)),
    "reversed-normals": ("a face each", lambda n: ring(n).edit(normals=-RING.normals)),
    "coincident-faces": ("a face each", lambda n: ring(n).edit(faces=RING.faces + tuple(f[::-1] for f in RING.faces))),
    "duplicate-faces": ("a face each", lambda n: ring(n).edit(faces=RING.faces + RING.faces)),
    "bad-number": ("a vertex each", lambda n: ring(n).text().replace(b"v 2", b"v x2").replace(b"v -2", b"v x-2")),
    "index-range": (
        "a corner each",
        lambda n: with_faces(ring(n), lambda corner: (corner[0] + 9000 * (corner[0] % 2), *corner[1:])),
    ),
    "repeated-corners": ("a face each", lambda n: ring(n).edit(faces=tuple((*f, f[0]) for f in RING.faces))),
    "uv-index-range": ("a corner each", lambda n: with_faces(ring(n), lambda corner: (corner[0], 9000, corner[2]))),
}  # fmt: skip


@pytest.mark.parametrize("check", MANY)
def test_thousands_of_places_are_one_finding(check: str, tmp_path: Path) -> None:
    inspection = look(tmp_path, frames({n: MANY[check][1](n) for n in NUMBERS}))
    finding = finding_of(inspection, check)
    assert [float(number) for number in finding.frames] == EVERY
    assert len(finding.where) == limits.PLACES_KEPT
    count = max(value for key, value in finding.numbers.items() if key in ("places", "most"))
    assert int(str(count)) >= 1000


def some_faces_bare(mesh: Mesh) -> Mesh:
    return with_faces(mesh, lambda corner: (corner[0], ABSENT, corner[2]), of=[4, 5])


def uvs_exchanged(at: int) -> Callable[[Mesh], Mesh]:
    return lambda mesh: with_faces(
        mesh, lambda corner: (corner[0], {at: at + 1, at + 1: at}.get(corner[1], corner[1]), corner[2])
    )


@pytest.mark.parametrize(
    ("check", "files"),
    [
        ("partial-uvs", shot(dict.fromkeys((3, 5, 7), some_faces_bare))),
        ("uv-mismatch", shot({at: uvs_exchanged(at) for at in (3, 5, 7)})),
        ("library-missing", {name: data for name, data in shot().items() if name != "manta.mtl"}),
    ],
)
def test_one_limit_of_places_for_all_checks(
    check: str, files: Mapping[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(limits, "PLACES_KEPT", 2)
    assert len(finding_of(look(tmp_path, files), check).where) == 2


def test_a_folder_of_trouble_is_a_short_report(tmp_path: Path) -> None:
    def spoilt(text: bytes) -> bytes:
        return text.replace(b"vt 0.2", b"vt nan").replace(b"f 1/1 2/2", b"f 1/1 1/2").replace(b"f 3/3", b"f 3/999")

    assert len(look(tmp_path, every(spoilt)).findings) <= 4


def test_points_that_jump_about_are_not_told_of_frame_by_frame(tmp_path: Path) -> None:
    rng = np.random.default_rng(8)
    clouds = {n: plain(rng.normal(size=(300, 3)), []) for n in range(1, 60)}
    assert {check for check, severity, _ in heard(look(tmp_path, frames(clouds))) if severity != "note"} == set()
