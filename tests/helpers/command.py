"""Running the command as a user does: another process, its exit code, what it says where."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import unicodedata
from functools import cache
from pathlib import Path
from typing import Any

from tests.helpers.forked import Forker

ROOT = Path(__file__).parents[2]


def environment(**changes: str) -> dict[str, str]:
    """The tests' environment, without what would change colours, and with the package to import.

    Compiled modules are kept also where the caller's environment forbids it (PYTHONDONTWRITEBYTECODE): to compile the
    package again would take every process a second.
    """
    left_out = ("NO_COLOR", "COLUMNS", "LINES", "PYTHONDONTWRITEBYTECODE")
    kept = {key: value for key, value in os.environ.items() if key not in left_out}
    ours = {
        "PYTHONPATH": str(ROOT),
        "PYTHONPYCACHEPREFIX": str(ROOT / ".pytest_cache" / "compiled"),
        "PYTHONWARNINGS": "error",
        "LC_ALL": "C.UTF-8",
        "TERM": "xterm",
    }
    return kept | ours | changes


_READ_AT_THE_START = ("PYTHON", "LC_", "LANG", "MESHQC_NATIVE")


def _at_the_start(environment: dict[str, str]) -> dict[str, str]:
    return {key: value for key, value in environment.items() if key.startswith(_READ_AT_THE_START)}


_STARTED_WITH = environment()


@cache
def _forker() -> Forker:
    return Forker(_STARTED_WITH)


def meshqc(*words: str | Path, cwd: Path | None = None, **changes: str) -> subprocess.CompletedProcess[str]:
    """`python -m inspector WORDS`, not on a terminal."""
    arguments, ours = list(map(str, words)), environment(**changes)
    if _at_the_start(ours) == _at_the_start(_STARTED_WITH):
        code, out, err = _forker().run(arguments, cwd, ours)
        return subprocess.CompletedProcess(arguments, code, out.decode(), err.decode())
    return subprocess.run(
        [sys.executable, "-m", "inspector", *arguments],
        cwd=cwd,
        env=ours,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def strict_json(text: str) -> Any:
    """JSON text -> values; NaN and Infinity, which RFC 8259 doesn't know, fail."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in JSON")

    return json.loads(text, parse_constant=refuse)


def digests(folder: Path) -> dict[str, str]:
    """SHA-256 of every file below a folder, by its path."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def harmful(text: str) -> list[str]:
    """Characters that a terminal acts on or that hide text: all controls but the line end, and format characters
    such as bidi overrides (Unicode categories Cc and Cf)."""
    return [c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf")]


def assert_one_sentence(stderr: str) -> None:
    """A failure is told on one line, by name, without a traceback."""
    assert stderr.startswith("meshqc: ")
    assert stderr.count("\n") == 1
    assert "Traceback" not in stderr
