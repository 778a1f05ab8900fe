"""--help: every command shows itself in use, with command lines that are understood."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from inspector.cli.arguments import parse
from inspector.cli.examples import EXAMPLES
from inspector.cli.help import COMMANDS
from tests.helpers.command import ROOT, environment, meshqc


def test_extras_are_named_as_the_readme_installs_them() -> None:
    """The project's extras, by pyproject.toml; it is installed from a clone, so its name leads to nothing of ours."""
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    sources = [path.read_text() for path in (ROOT / "inspector").rglob("*.py")]
    texts = [(ROOT / "README.md").read_text(), *sources]
    named = [name for text in texts for name in re.findall(r"pip install '\.\[(\w+)\]'", text)]
    assert set(named) == {"usd", "cluster"} <= set(extras)
    assert not [text for text in texts if "meshqc[" in text]


def test_every_command_has_an_example_of_its_own() -> None:
    assert EXAMPLES.keys() == {"open", *COMMANDS}
    for command, lines in EXAMPLES.items():
        assert any(shlex.split(line)[1] == command for line in lines) or command == "open"


@pytest.mark.parametrize("command", EXAMPLES)
def test_the_examples_run_as_they_stand(
    demo: Path, tmp_path: Path, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Pasted one after the other into a shell beside the demo data. Left out: what opens the keyboard face, and a watch
    that would wait a minute."""
    shutil.copytree(demo, tmp_path / "harbour")
    with pytest.raises(SystemExit):
        parse(["--help"] if command == "open" else [command, "--help"])
    shown = capsys.readouterr().out
    assert max(map(len, shown.splitlines())) <= 80
    for line in EXAMPLES[command]:
        assert f"  {line}\n" in shown
        words = shlex.split(line)
        assert words[0] == "meshqc"
        if words[1] in COMMANDS and "--quiet-for" not in words:
            pasted = shlex.join([sys.executable, "-m", "inspector"]) + line.removeprefix("meshqc")
            shell = ["sh", "-c", pasted]
            run = subprocess.run(shell, check=False, cwd=tmp_path, env=environment(), capture_output=True, timeout=120)
            assert run.returncode in (0, 1), (line, run.stderr)


def test_colour_can_be_had_and_left_out(demo: Path) -> None:
    """An option beats NO_COLOR (no-color.org); not on a terminal, nothing is coloured unasked."""
    for words, changes, coloured in (
        ((), {}, False),
        (("--color", "always"), {}, True),
        (("--color", "always"), {"NO_COLOR": "1"}, True),
        (("--color", "never"), {}, False),
    ):
        run = meshqc("check", demo / "kelp_broken", *words, **changes)
        assert ("\x1b[" in run.stdout) is coloured
        assert "E error" in run.stdout
