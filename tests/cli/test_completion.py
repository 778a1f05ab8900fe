"""Tests of the shell completion. Source: bash(1), "Programmable Completion"."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from inspector.cli.commands.completion import SHELLS
from inspector.cli.registry import named_commands, ready

_ASK = """
. /dev/stdin
COMP_WORDS=(meshqc {words}) COMP_CWORD={at} COMP_LINE="meshqc {words}"
_shtab_meshqc
printf '%s\\n' "${{COMPREPLY[@]}}"
"""


@pytest.mark.skipif(shutil.which("bash") is None, reason="NOT TESTED: no bash here")
@pytest.mark.parametrize(
    ("words", "at", "offered"),
    [("ch", 1, ["check", "checks"]), ("check --fr", 2, ["--frames"]), ("check --fail-on no", 3, ["note", "never"])],
)
def test_bash(words: str, at: int, offered: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert ready(["completion", "bash"])() == 0
    script = capsys.readouterr().out
    code = _ASK.format(words=words, at=at)
    run = subprocess.run(
        ["bash", "--norc", "-c", code], input=script, capture_output=True, text=True, timeout=30, check=False
    )
    assert run.stderr == ""
    given, last = run.stdout.split(), words.rpartition(" ")[2]
    assert [word for word in given if word.startswith(last)] == [word for word in offered if word.startswith(last)]


@pytest.mark.parametrize("shell", SHELLS)
def test_every_command_is_in_it(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert ready(["completion", shell])() == 0
    script = capsys.readouterr().out
    assert not [name for name in named_commands() if name not in script]
