"""The command, run as a user runs it: in another process, with its exit code, stdout and stderr."""

from __future__ import annotations

import hashlib
import json
import os
import resource
import subprocess
import sys
import unicodedata
from functools import cache
from pathlib import Path
from typing import Any

from tests.helpers.forked import Forker

ROOT = Path(__file__).parents[2]


def environment(**changes: str) -> dict[str, str]:
    """Return the environment of the tests, with the package on the path and without variables that change colours.

    Compiled modules are cached even if the caller's environment forbids caching (PYTHONDONTWRITEBYTECODE). The cache
    saves a second per process.
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
    """Run `python -m inspector WORDS` without a terminal."""
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


def starved(limit: int, words: list[str]) -> subprocess.CompletedProcess[str]:
    """Run meshqc with a limit on the size of every file, in bytes. Compiled modules are not cached (-B), so that they
    are not cut off."""
    return subprocess.run(
        [sys.executable, "-B", "-m", "inspector", *words],
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)),
        timeout=120,
    )


def strict_json(text: str) -> Any:
    """Parse JSON text. Fail on NaN and Infinity, which RFC 8259 doesn't allow."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in JSON")

    return json.loads(text, parse_constant=refuse)


def digests(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def harmful(text: str) -> list[str]:
    """Return format characters (such as bidi overrides) and control characters other than the line feed (Unicode
    general categories Cf and Cc)."""
    return [c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf")]


def assert_one_sentence(stderr: str) -> None:
    """Check that a failure is reported on a single line that begins with the program's name, without a traceback."""
    assert stderr.startswith("meshqc: ")
    assert stderr.count("\n") == 1
    assert "Traceback" not in stderr
