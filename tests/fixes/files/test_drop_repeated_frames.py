"""Tests of `drop-repeated-frames`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.planning import make_plan
from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import wing
from tests.helpers.sequences import look_at_all, shot


def test_the_repeat_without_zeros_is_dropped(tmp_path: Path) -> None:
    files = shot() | {"manta.5.obj": wing(5).text()}
    result = fixed(tmp_path, files, "drop-repeated-frames")
    assert "manta.5.obj" not in result.after
    assert {name for name in shot() if result.after[name] != files[name]} == set()
    assert result.delivery.proof.clean
    assert any(one["path"] == "manta.5.obj" for one in result.delivery.receipt["sources"])  # type: ignore[attr-defined]


def test_other_line_ends_and_comments_are_no_other_content(tmp_path: Path) -> None:
    files = shot() | {"manta.5.obj": b"# again\r\n" + wing(5).text().replace(b"\n", b"\r\n")}
    assert "manta.5.obj" not in fixed(tmp_path, files, "drop-repeated-frames").after


def test_a_state_that_is_stated_again_is_no_other_content(tmp_path: Path) -> None:
    """The material stays current until another material is named (Wavefront OBJ, "usemtl")."""
    again = re.sub(rb"(?m)^(usemtl .*\n(?:f .*\n){2})", rb"\1usemtl skin\n", wing(5).text())
    assert again.count(b"usemtl skin") == 2
    assert "manta.5.obj" not in fixed(tmp_path, shot() | {"manta.5.obj": again}, "drop-repeated-frames").after


@pytest.mark.parametrize("name", ["manta.0005.obj", "manta.5.obj"])
def test_the_file_that_can_not_be_read_is_named(tmp_path: Path, name: str) -> None:
    inspection = look_at_all(tmp_path, shot() | {"manta.5.obj": wing(5).text()})
    (tmp_path / name).unlink()
    with pytest.raises(Refusal, match=rf"drop-repeated-frames: {re.escape(name)}: No such file or directory"):
        make_plan(inspection, [Choice("drop-repeated-frames")])


def test_two_different_files_are_not_decided_between(tmp_path: Path) -> None:
    files = shot() | {"manta.5.obj": wing(5.5).text()}
    with pytest.raises(Refusal, match=r"frame 5: manta\.0005\.obj and manta\.5\.obj differ"):
        plan_for(tmp_path, files, "drop-repeated-frames")


@pytest.mark.parametrize("smoothing", [b"s off", b"s 1"])
def test_smoothing_groups_are_content(tmp_path: Path, smoothing: bytes) -> None:
    files = {name: data.replace(b"\nf ", b"\ns 1\nf ", 1) for name, data in shot().items()}
    other = wing(5).text().replace(b"\n", b"\r\n").replace(b"\nf ", b"\n" + smoothing + b"\r\nf ", 1)
    if smoothing == b"s 1":
        assert "manta.5.obj" not in fixed(tmp_path, files | {"manta.5.obj": other}, "drop-repeated-frames").after
    else:
        with pytest.raises(Refusal, match=r"frame 5: manta\.0005\.obj and manta\.5\.obj differ"):
            plan_for(tmp_path, files | {"manta.5.obj": other}, "drop-repeated-frames")


def test_vertex_colours_are_content(tmp_path: Path) -> None:
    coloured = re.sub(rb"(?m)^(v .*)$", rb"\1 1 0 0", wing(5).text())
    with pytest.raises(Refusal, match=r"frame 5: manta\.0005\.obj and manta\.5\.obj differ"):
        plan_for(tmp_path, shot() | {"manta.5.obj": coloured}, "drop-repeated-frames")


def test_without_repeats_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no two files have the same frame number"):
        plan_for(tmp_path, shot(), "drop-repeated-frames")
