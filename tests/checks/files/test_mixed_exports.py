"""Tests of `mixed-exports`. The expected findings follow common practice (no source)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.helpers.meshes import wing
from tests.helpers.one_thing import TEXT, broken, every
from tests.helpers.sequences import MATERIALS, Files, finding_of, frames, heard, look, shot

HALF = [float(n) for n in range(8, 13)]


def headed(header: Callable[[int], str], decimals: Callable[[int], int] = lambda _: 6) -> Files:
    texts = {n: f"# {header(n)}\n".encode() + wing(n).text(decimals(n)) for n in range(1, 13)}
    return MATERIALS | frames(texts)


def test_another_header_and_other_decimals(tmp_path: Path) -> None:
    files = headed(lambda n: "written by reef 2.1" if n < 8 else "written by reef 3.0", lambda n: 6 if n < 8 else 5)
    said, inspection = broken(tmp_path, "mixed-exports", files)
    assert said == [("mixed-exports", "warning", HALF)]
    assert finding_of(inspection, "mixed-exports").numbers["signs"] == "decimals, header"


def crlf_in_one(files: Files) -> Files:
    return files | {"manta.0005.obj": TEXT.replace(b"\n", b"\r\n")}


@pytest.mark.parametrize(
    ("files", "numbers", "sign"),
    [
        (headed(lambda n: "written by reef 2.1" if n < 8 else "written by reef 3.0"), HALF, "header"),
        (headed(lambda _: "reef", lambda n: 6 if n < 8 else 4), HALF, "decimals"),
        (crlf_in_one(shot()), [5.0], "line endings"),
    ],
)
def test_one_sign_alone_is_a_note(files: Files, numbers: list[float], sign: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "mixed-exports", files)
    assert said == [("mixed-exports", "note", numbers)]
    assert finding_of(inspection, "mixed-exports").numbers["signs"] == sign


@pytest.mark.parametrize(
    "header",
    [
        lambda n: f"frame {n}",
        lambda n: f"manta.{n:04}.obj",
        lambda n: f"written 2024-01-{n:02} at {n}:{n + 30}:07",
        lambda n: f"written {'Mon Jan 29' if n < 8 else 'Thu February 1'} 2024, {9 if n < 8 else 11} am",
        lambda n: f"{20 + n} vertices, {0.5 * n:.3f} high",
        lambda n: f"job {'abcdefghijklm'[n]}",
    ],
)
def test_what_differs_from_frame_to_frame_is_healthy(header: Callable[[int], str], tmp_path: Path) -> None:
    assert heard(look(tmp_path, headed(header))) == []


def test_a_writer_that_drops_zeros_is_healthy(tmp_path: Path) -> None:
    def short(n: int) -> bytes:
        mesh = wing(n)
        rows = "".join(f"v {x:g} {y:g} {z:g}\n" for x, y, z in mesh.positions.tolist())
        return rows.encode() + mesh.edit(positions=mesh.positions[:0]).text()

    assert heard(look(tmp_path, MATERIALS | frames({n: short(n) for n in range(1, 13)}))) == []


def test_all_frames_alike_is_healthy(tmp_path: Path) -> None:
    assert heard(look(tmp_path, every(lambda text: b"# reef 2.1\r\n" + text.replace(b"\n", b"\r\n")))) == []
