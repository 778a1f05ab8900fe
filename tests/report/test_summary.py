"""Tests of the summary of a tree of shots."""

from __future__ import annotations

import shutil
from pathlib import Path

from inspector.inspection.inspection import inspect_folder
from inspector.report.text import summary_lines
from inspector.report.text_style import TextStyle, cells
from tests.helpers.command import meshqc, strict_json


def test_the_worst_shot_comes_first_with_its_counts(demo: Path, tmp_path: Path) -> None:
    for shot, name in (("a/one", "manta"), ("b/two", "kelp_broken"), ("c/deep/three", "manta_broken"), ("d", "manta")):
        shutil.copytree(demo / name, tmp_path / shot)
    text = meshqc("check", tmp_path).stdout.splitlines()
    start = text.index("summary, worst first")
    shown = text[start + 1 : start + 5]
    assert [line.split()[-1] for line in shown] == [
        "c/deep/three/manta_broken.####.obj",
        "b/two/kelp_broken.####.obj",
        "a/one/manta.####.obj",
        "d/manta.####.obj",
    ]
    assert [line[0] for line in shown] == ["E", "E", ".", "."]
    document = strict_json(meshqc("check", tmp_path, "--json").stdout)
    for sequence in document["sequences"]:
        (line,) = (one for one in shown if one.split()[-1].startswith(f"{sequence['folder']}/"))
        errors = sum(finding["severity"] == "error" for finding in sequence["findings"])
        assert (f"{errors} errors" in line) if errors else ("nothing found" in line)
    assert text[start + 6].startswith("verdict: ")


def test_a_lone_sequence_needs_no_summary(demo: Path) -> None:
    assert "summary" not in meshqc("check", demo / "manta").stdout


def test_a_summary_keeps_to_the_width(demo: Path) -> None:
    lines = list(summary_lines(inspect_folder(demo), TextStyle(80)))
    assert len(lines) == 6
    assert max(map(cells, lines)) <= 80
