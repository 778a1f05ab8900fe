"""materials-change: libraries of frames that describe one material differently."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.materials import ALL, library, library_a_frame
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look

WHITE = library("Kd 1 1 1", "map_Kd skin.png")


def test_one_frame_in_another_colour(tmp_path: Path) -> None:
    texts = dict.fromkeys(range(1, 13), WHITE) | {7: library("Kd 1 0 0", "map_Kd skin.png")}
    said, inspection = broken(tmp_path, "materials-change", library_a_frame(texts))
    assert said == [("materials-change", "warning", [7.0])]
    assert "differs between frames: `kd`" in finding_of(inspection, "materials-change").message


def test_a_colour_that_changes_throughout_is_one_finding(tmp_path: Path) -> None:
    texts = {number: library(f"Kd {number / 20} 0 0") for number in range(1, 13)}
    assert heard(look(tmp_path, library_a_frame(texts))) == [("materials-change", "warning", ALL[1:])]


def test_another_spelling_of_the_same_is_no_change(tmp_path: Path) -> None:
    texts = dict.fromkeys(range(1, 13), WHITE) | {7: b"# later\nnewmtl skin\n\nmap_Kd ./skin.png\r\nKd 1.0 1.000 1\r\n"}
    assert heard(look(tmp_path, library_a_frame(texts))) == [("library-per-frame", "note", ALL)]
