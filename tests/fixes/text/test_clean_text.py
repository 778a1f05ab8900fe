"""Tests of `clean-text`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.broken.text import FIRST, GOOD, NAME, mixed, slashes, superseded
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import finding_of, look, shot


def bare(data: bytes) -> bytes:
    return data.replace(b"\n", b"\r")


@pytest.mark.parametrize(
    ("spoil", "check"),
    [
        (mixed, "line-ends"),
        (bare, "line-ends"),
        (superseded, "deprecated-statements"),
        (slashes, "empty-indices"),
        # The Unicode Standard, chapter 3: the byte-order mark, and UTF-16 with and without a byte-order mark.
        (lambda data: b"\xef\xbb\xbf" + data, "encoding"),
        (lambda data: data.decode().encode("utf-16"), "encoding"),
        (lambda data: data.decode().encode("utf-16-be"), "encoding"),
        (lambda data: b"\xef\xbb\xbf" + mixed(data), "line-ends"),
    ],
)
def test_each_form_becomes_plain(tmp_path: Path, spoil: Callable[[bytes], bytes], check: str) -> None:
    result = fixed(tmp_path, shot() | {NAME: spoil(GOOD)}, "clean-text")
    assert result.after[NAME] == GOOD
    assert check in {finding.check for _, finding in result.delivery.proof.gone}
    assert result.delivery.proof.clean


def test_comments_behind_data_move_to_lines_of_their_own(tmp_path: Path) -> None:
    files = shot() | {NAME: GOOD.replace(FIRST, FIRST + b"  # left wing")}
    result = fixed(tmp_path, files, "clean-text")
    assert result.after[NAME] == GOOD + b"# left wing\n"
    assert "trailing-comments" in {finding.check for _, finding in result.delivery.proof.gone}


def test_continued_statements_and_the_last_line_end(tmp_path: Path) -> None:
    head, tail = b" ".join(FIRST.split()[:3]), b" ".join(FIRST.split()[3:])
    broken = GOOD.replace(FIRST, head + b" \\\n" + tail).removesuffix(b"\n")
    result = fixed(tmp_path, shot() | {NAME: broken}, "clean-text", frames=(4,))
    assert b"\\" not in result.after[NAME]
    assert [line.split() for line in result.after[NAME].splitlines() if line] == [
        line.split() for line in GOOD.splitlines()
    ]
    assert result.after[NAME].endswith(b"\n")


def test_blanks_and_number_signs_in_names_stay(tmp_path: Path) -> None:
    files = {
        name: data.replace(b"usemtl skin", b"g wing #1").replace(b"\n", b"\r\n", 3) for name, data in shot().items()
    }
    assert b"\ng wing #1\n" in fixed(tmp_path, files, "clean-text").after[NAME]


def test_names_in_utf_16_come_out_in_utf_8(tmp_path: Path) -> None:
    named = GOOD.replace(b"usemtl skin", "usemtl skin\ng Flügel".encode())
    files = {name: named if name.endswith(".obj") else data for name, data in shot().items()}
    result = fixed(tmp_path, files | {NAME: named.decode().encode("utf-16")}, "clean-text")
    assert result.after[NAME] == named


def test_text_in_an_unknown_encoding_is_left_alone(tmp_path: Path) -> None:
    """In an unknown encoding, the meaning of bytes above 127 is unknown."""
    inspection = look(tmp_path, shot() | {NAME: GOOD + b"# Gr\xfc\xdfe\n"})
    assert finding_of(inspection, "encoding").fixes == ()


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "already clean"),
        (shot() | {NAME: mixed(GOOD) + b"glow 1\n"}, r"line \d+: .*would be copied with its line ending unchanged"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "clean-text")
