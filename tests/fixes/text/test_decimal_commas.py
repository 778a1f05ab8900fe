"""Tests of `decimal-commas`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import shot

NAME = "manta.0004.obj"


def with_commas(data: bytes) -> bytes:
    return b"\n".join(line.replace(b".", b",") if line[:1] == b"v" else line for line in data.split(b"\n"))


def test_every_number_is_written_with_a_point(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot() | {NAME: with_commas(shot()[NAME])}, "decimal-commas")
    assert result.after[NAME] == shot()[NAME]
    assert result.touched(NAME) == {b"v", b"vt"}
    assert "bad-number" in {finding.check for _, finding in result.delivery.proof.gone}
    assert result.delivery.proof.clean


def test_a_comma_in_a_comment_or_a_name_stays(tmp_path: Path) -> None:
    files = {name: data.replace(b"o manta", b"# wings, both\no manta") for name, data in shot().items()}
    result = fixed(tmp_path, files | {NAME: with_commas(files[NAME])}, "decimal-commas")
    assert result.after[NAME] == files[NAME]


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "no number has a decimal comma"),
        (
            shot() | {NAME: with_commas(shot()[NAME]).replace(b",", b".", 1)},
            "is not written with a decimal comma, unlike other numbers",
        ),
        (shot() | {NAME: with_commas(shot()[NAME]).replace(b"v -2,", b"v -2,000,", 1)}, "frame 4, line 3"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "decimal-commas")
