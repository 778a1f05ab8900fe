"""Tests of the help of every command."""

from __future__ import annotations

import argparse
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from inspector.cli.manual_pages import TOPICS, page
from inspector.cli.registry import all_commands, named_commands, parse
from inspector.errors import MeshqcError
from inspector.formats.usd.stage import need_library
from inspector.picture import movie
from inspector.sequence.run.cluster import ClusterExecutor
from tests.helpers.command import ROOT, environment, meshqc

NEEDS: dict[str, tuple[str, Callable[[], object]]] = {
    "usd": ("pxr.Usd", need_library),
    "cluster": ("distributed", lambda: ClusterExecutor("tcp://10.0.0.5:8786")),
    "movie": ("av", lambda: movie.require(".mp4")),
}
"""For each extra, a module that the extra installs and a function that needs the module."""


@pytest.mark.parametrize("extra", NEEDS)
def test_extras_are_named_as_the_manual_installs_them(extra: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The project is installed from a clone. `pip install meshqc[...]` would install someone else's package."""
    module, needing = NEEDS[extra]
    monkeypatch.setitem(sys.modules, module, None)
    with pytest.raises(MeshqcError) as refused:
        needing()
    assert f"needs the extra `{extra}`: in the clone" in str(refused.value)
    pages = [" ".join(page(topic).split()) for topic in TOPICS]
    for text in (str(refused.value), *pages):
        named = re.findall(r"pip install '\.\[(\w+)\]'", text)
        assert set(named) <= NEEDS.keys()
        assert "meshqc[" not in text
    assert any(f"pip install '.[{extra}]'" in text for text in pages)
    assert extra in tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]


def test_every_command_has_an_example_of_its_own() -> None:
    for name, command in named_commands().items():
        assert any(shlex.split(line)[1] == name for line in command.examples)


def test_every_command_is_in_the_help_with_its_usage(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        parse(["--help"])
    shown = capsys.readouterr().out
    assert len(named_commands()) > 10
    for command in named_commands().values():
        assert command.topic is not None
        assert re.search(rf"^    {re.escape(command.usage_line)} +{re.escape(command.summary)}$", shown, re.MULTILINE)


@pytest.mark.parametrize("command", all_commands())
def test_help_ends_with_the_exit_codes(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        parse([command, "--help"] if command else ["--help"])
    shown = capsys.readouterr().out
    codes = re.findall(r"^  (\d)  \S", shown.partition("\nexit codes:\n")[2], re.MULTILINE)
    assert codes in (["0", "2"], ["0", "1", "2"])


def test_help_names_fail_on_only_where_the_option_exists() -> None:
    named = named_commands()
    texts = {name: command.notes if isinstance(command.notes, str) else "" for name, command in named.items()}
    mentions = {name for name, text in texts.items() if "--fail-on" in text}
    assert {"check", "watch"} <= mentions
    for name in mentions:
        names: list[str] = []
        named[name].fill(argparse.ArgumentParser(), names)
        assert "--fail-on" in names, name


def _pasted(line: str, place: Path) -> int:
    """Run a line of a help text, and return its exit code. Use a shell only for shell syntax."""
    if not set("|<>&;*$") & set(line):
        return meshqc(*shlex.split(line)[1:], cwd=place).returncode
    pasted = shlex.join([sys.executable, "-m", "inspector"]) + line.removeprefix("meshqc")
    shell = ["sh", "-c", pasted]
    return subprocess.run(
        shell, check=False, cwd=place, env=environment(), stdout=subprocess.DEVNULL, timeout=120
    ).returncode


@pytest.mark.parametrize("command", all_commands())
def test_the_examples_run_as_they_stand(
    demo: Path, tmp_path: Path, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Commands that open the terminal UI are left out, and so is a `watch` command that would wait for a minute."""
    shutil.copytree(demo, tmp_path / "harbour")
    with pytest.raises(SystemExit):
        parse([command, "--help"] if command else ["--help"])
    shown = capsys.readouterr().out
    assert max(map(len, shown.splitlines())) <= 80
    for line in all_commands()[command].examples:
        assert f"  {line}\n" in shown
        words = shlex.split(line)
        assert words[0] == "meshqc"
        if words[1] in named_commands() and "--quiet-for" not in words:
            assert _pasted(line, tmp_path) in (0, 1), line


def test_colour_can_be_had_and_left_out(demo: Path) -> None:
    """Source of NO_COLOR: no-color.org."""
    for words, changes, coloured in (
        ((), {}, False),
        (("--color", "always"), {}, True),
        (("--color", "always"), {"NO_COLOR": "1"}, True),
        (("--color", "never"), {}, False),
    ):
        run = meshqc("check", demo / "kelp_broken", *words, **changes)
        assert ("\x1b[" in run.stdout) is coloured
        assert "E error" in run.stdout
