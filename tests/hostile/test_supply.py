"""Tests of the minimal install (no extras) and of the oldest versions that pyproject.toml allows.

Run by hand: `pytest -m supply`. This fetches packages, and treats warnings as errors.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.helpers.command import ROOT

pytestmark = pytest.mark.supply
NEEDS: list[str] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]


@pytest.mark.parametrize("oldest", [False, True], ids=["newest", "oldest"])
def test_an_install_without_extras(oldest: bool, tmp_path: Path) -> None:
    packages = [re.sub(r">=([^,]+),.*", r"==\1", need) for need in NEEDS] if oldest else NEEDS
    assert len(packages) == 4
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "venv")], check=True, timeout=600)
    python = tmp_path / "venv" / "bin" / "python"
    subprocess.run([python, "-m", "pip", "install", "-q", *packages], check=True, capture_output=True, timeout=600)
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(tmp_path)}
    manta, broken = ROOT / "fixtures" / "manta", ROOT / "fixtures" / "manta_broken"
    for code, *words in (
        (0, "check", manta),
        (1, "check", broken, "--format", "html"),
        (0, "fix", broken, "--output", tmp_path / "out", "--all", "--invent-at-most", "7"),
        (0, "fix", manta, "--output", tmp_path / "glb", "--as", "glb", "--with", "scale:factor=2"),
    ):
        command = [python, "-W", "error", "-m", "inspector", *words]
        run = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=600)
        assert run.returncode == code, (words, run.stderr)
