"""Tests of how the tool finds out what the terminal can do."""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path

import pytest

from inspector.errors import MeshqcError
from inspector.sequence.discovery.settings import Settings
from inspector.tui import terminal
from inspector.tui.run import run
from inspector.tui.terminal import hung_up, speaks_utf8


# LC_ALL precedes LC_CTYPE, which precedes LANG, and an empty value counts as unset (POSIX.1-2017, XBD 8.2).
@pytest.mark.parametrize(
    ("environment", "expected"),
    [
        ({}, False),
        ({"LANG": "C"}, False),
        ({"LANG": "en_GB.UTF-8"}, True),
        ({"LANG": "de_DE.utf8"}, True),
        ({"LANG": "de_DE.ISO-8859-1"}, False),
        ({"LANG": "en_GB.UTF-8", "LC_ALL": "C"}, False),
        ({"LANG": "en_GB.UTF-8", "LC_ALL": ""}, True),
        ({"LANG": "C", "LC_CTYPE": "en_GB.UTF-8"}, True),
        ({"LC_CTYPE": "UTF-8"}, True),
        # Python itself sets LC_CTYPE in a C locale (PEP 538), even if the terminal can't show UTF-8.
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, False),
        ({"LC_CTYPE": "C.UTF-8"}, False),
        ({"LANG": "C", "LC_ALL": "C.UTF-8"}, True),
        ({"LANG": "C.UTF-8"}, True),
    ],
)
def test_locale(environment: dict[str, str], expected: bool) -> None:
    assert speaks_utf8(environment) is expected


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stdin", "stderr", "term"),
    [(io.StringIO(), Screen(), "xterm"), (Screen(), io.StringIO(), "xterm"), (Screen(), Screen(), "dumb")],
    ids=["keys from a pipe", "screen into a file", "a terminal without a cursor"],
)
def test_without_a_screen_it_points_to_the_headless_command(
    stdin: io.StringIO, stderr: io.StringIO, term: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", stdin)
    monkeypatch.setattr(sys, "stderr", stderr)
    monkeypatch.setenv("TERM", term)
    with pytest.raises(MeshqcError) as raised:
        run(tmp_path / "a shot", Settings())
    assert str(raised.value).endswith(f"instead, run: meshqc check '{tmp_path}/a shot'")


def test_a_closed_terminal_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    ours, theirs = os.openpty()
    with os.fdopen(theirs) as stdin:
        monkeypatch.setattr(terminal.sys, "stdin", stdin)
        assert not hung_up()
        os.close(ours)
        assert hung_up()
