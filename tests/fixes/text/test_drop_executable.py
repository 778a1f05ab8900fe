"""Tests of `drop-executable`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import shot

NAME = "manta.0004.obj"


def test_the_lines_go_and_nothing_else(tmp_path: Path) -> None:
    files = shot() | {NAME: shot()[NAME].replace(b"usemtl", b"call fins.obj 1\ncsh -ls\nusemtl")}
    result = fixed(tmp_path, files, "drop-executable")
    assert result.after[NAME] == shot()[NAME]
    assert result.touched(NAME) == {b"call", b"csh"}
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["executable-statements"]
    assert result.delivery.proof.clean


def test_without_one_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no frame has an executable statement"):
        plan_for(tmp_path, shot(), "drop-executable")
