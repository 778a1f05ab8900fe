"""Run the command in a separate process, without the time that Python takes to start and to import NumPy (about a
second).

A process that has already imported the package forks for every command line. The child has its own file descriptors,
working folder, environment, signals and exit code. Python reads the locale and the PYTHON... variables only when it
starts, and the package reads MESHQC_NATIVE only when it is imported. If a test changes one of these settings,
`command.meshqc` therefore starts Python instead of forking.
"""

from __future__ import annotations

import atexit
import importlib
import json
import os
import pkgutil
import select
import subprocess
import sys
import tempfile
import traceback
from pathlib import Path
from typing import NoReturn

from tests.helpers.disk import do_not_wait

ROOT = Path(__file__).parents[2]
TIMEOUT = 120.0
_NOT_IMPORTED = ("inspector.tui", "inspector.__main__", "inspector._native")


class Forker:
    """A process that runs command lines. It ends when the test run ends."""

    def __init__(self, environment: dict[str, str]) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", __name__], cwd=ROOT, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        atexit.register(self._process.kill)

    def run(self, words: list[str], cwd: Path | None, environment: dict[str, str]) -> tuple[int, bytes, bytes]:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        with tempfile.TemporaryDirectory() as place:
            order = {"words": words, "cwd": str(cwd or Path.cwd()), "environment": environment, "place": place}
            self._process.stdin.write(json.dumps(order).encode() + b"\n")
            self._process.stdin.flush()
            ready, _, _ = select.select([self._process.stdout], [], [], TIMEOUT)
            if not ready:
                self._process.kill()
                raise TimeoutError(f"meshqc {' '.join(words)} did not end within {TIMEOUT} seconds")
            code = int(self._process.stdout.readline())
            return code, Path(place, "out").read_bytes(), Path(place, "err").read_bytes()


def _serve() -> None:
    do_not_wait()
    for name in pkgutil.walk_packages([str(ROOT / "inspector")], "inspector."):
        if not name.name.startswith(_NOT_IMPORTED):
            importlib.import_module(name.name)
    for line in sys.stdin.buffer:
        order = json.loads(line)
        child = os.fork()
        if not child:
            _become(order)
        _, status = os.waitpid(child, 0)
        sys.stdout.write(f"{os.waitstatus_to_exitcode(status)}\n")
        sys.stdout.flush()


def _become(order: dict[str, str]) -> NoReturn:
    """Run a command line in this child process, and end the process."""
    code = 70
    try:
        for number, name in ((0, "in"), (1, "out"), (2, "err")):
            flags = (os.O_RDONLY if number == 0 else os.O_WRONLY) | os.O_CREAT
            os.dup2(os.open(f"{order['place']}/{name}", flags), number)
        sys.stdin = os.fdopen(0, closefd=False)
        sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
        sys.stderr = os.fdopen(2, "w", buffering=1, encoding="utf-8", closefd=False)
        os.chdir(order["cwd"])
        os.environ.clear()
        os.environ.update(order["environment"])  # type: ignore[arg-type]
        sys.argv = ["meshqc", *order["words"]]
        from inspector.__main__ import main

        code = main()
    except BaseException:
        traceback.print_exc()
    finally:
        atexit._run_exitfuncs()
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


if __name__ == "__main__":
    _serve()
