"""What README shows of commands is what they say."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.helpers.command import ROOT, environment

_BLOCK = re.compile(r"(?:^    .*\n|^\n(?=    ))+", re.MULTILINE)


def shown() -> list[tuple[str, str]]:
    """Each command line behind a `$` in README, and what stands below it, in the order of the page."""
    blocks = [block.replace("\n    ", "\n").strip() for block in _BLOCK.findall((ROOT / "README.md").read_text())]
    parts = [block.replace("\\\n", "").partition("\n") for block in blocks if block.startswith("$ ")]
    return [(command.removeprefix("$ "), output) for command, _, output in parts]


def test_what_is_shown_is_what_is_said(demo: Path, tmp_path: Path) -> None:
    """One after the other beside the demo data, as on the page. `...` stands for anything that is left out."""
    shutil.copytree(demo, tmp_path / "harbour")
    commands = shown()
    assert {"check", "fix", "verify", "compare", "fit"} == {shlex.split(command)[1] for command, _ in commands}
    for command, output in commands:
        line = shlex.join([sys.executable, "-m", "inspector"]) + command.removeprefix("meshqc")
        run = subprocess.run(
            ["sh", "-c", line],
            check=False,
            cwd=tmp_path,
            env=environment(),
            capture_output=True,
            text=True,
            timeout=120,
        )
        said = " ".join(run.stdout.split()).replace(str(tmp_path.resolve()), "/shots")
        at = 0
        for piece in output.split("..."):
            words = " ".join(piece.split())
            found = said.find(words, at)
            if found < 0:
                pytest.fail(f"{command} does not say:\n{piece}\nbut:\n{run.stdout}{run.stderr}")
            at = found + len(words)
