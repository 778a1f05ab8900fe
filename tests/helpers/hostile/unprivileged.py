"""Commands that run as a user who isn't root, even if that user can't start the interpreter.

All modules are imported as root. For each command, a child process gives up all rights and then runs the command. As a
program, this module reads commands from stdin, and writes a line of JSON with the outcome of each.
"""

from __future__ import annotations

import json
import os
import pkgutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

from inspector.checks.base.registry import all_checks
from inspector.fixes.base.registry import all_fixes
from inspector.formats.registry import animations_by_ending
from inspector.formats.registry import by_ending as formats_by_ending
from tests.helpers.command import ROOT, environment

NOBODY = 65534
"""Id of the user and of the group that own no files (Linux Standard Base 5.0, "nobody")."""

_LATER = ("PIL.PngImagePlugin", "PIL.JpegImagePlugin", "trimesh.exchange.gltf", "encodings.idna")
"""Modules that the command imports only when it needs them."""


@dataclass(frozen=True)
class Ended:
    """How a command ended.

    Attributes:
        code: The exit code.
        out: The text on stdout.
        err: The text on stderr.
        opened: Names of the files and folders that the command opened.
    """

    code: int
    out: str
    err: str
    opened: frozenset[str]


class Unprivileged:
    """Runs commands as the user `nobody`. The folders for cache, state and configuration are below `own`."""

    def __init__(self, own: Path) -> None:
        xdg = {f"XDG_{name}_HOME": str(own / name.lower()) for name in ("CACHE", "STATE", "CONFIG")}
        self._server = subprocess.Popen(
            [sys.executable, "-m", "tests.helpers.hostile.unprivileged"],
            env=environment(HOME=str(own), PYTHONPATH=str(ROOT), PYTHONDONTWRITEBYTECODE="1", **xdg),
            cwd=own,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def __call__(self, *words: str | Path, **changes: str) -> Ended:
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._server.stdin.write(json.dumps([[str(word) for word in words], changes]) + "\n")
        self._server.stdin.flush()
        code, out, err, opened = json.loads(self._server.stdout.readline())
        return Ended(code, out, err, frozenset(opened))

    def close(self) -> None:
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._server.stdin.close()
        self._server.wait(timeout=60)
        self._server.stdout.close()


def _import_all() -> None:
    import inspector

    for module in pkgutil.walk_packages(inspector.__path__, "inspector."):
        if not module.name.startswith(("inspector.tui.", "inspector.formats.usd.")):
            import_module(module.name)
    for name in ("inspector.tui.saved_state", *_LATER):
        import_module(name)
    for registry in (
        formats_by_ending,
        animations_by_ending,
        all_checks,
        all_fixes,
    ):  # they list folders of the package
        registry()


def _run(words: list[str], changes: dict[str, str], out: int, err: int, opened: int) -> int:
    from inspector.__main__ import main

    os.setgroups([])
    os.setgid(NOBODY)
    os.setuid(NOBODY)
    os.environ.update(changes)
    os.dup2(out, 1)
    os.dup2(err, 2)

    def hook(event: str, arguments: tuple[object, ...]) -> None:
        if event == "open" and isinstance(arguments[0], str):
            os.write(opened, os.fsencode(Path(arguments[0]).name) + b"\0")

    sys.addaudithook(hook)
    return main(words)


def _serve() -> None:
    _import_all()
    for line in sys.stdin:
        words, changes = json.loads(line)
        with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err, tempfile.TemporaryFile() as opened:
            child = os.fork()
            if not child:
                code = 70
                try:
                    code = _run(words, changes, out.fileno(), err.fileno(), opened.fileno())
                except SystemExit as error:
                    code = int(error.code or 0)
                finally:
                    sys.stdout.flush()
                    os._exit(code)
            code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
            texts = []
            for file in (out, err, opened):
                file.seek(0)
                texts.append(file.read().decode("utf-8", "replace"))
            print(json.dumps([code, texts[0], texts[1], texts[2].split("\0")[:-1]]), flush=True)


if __name__ == "__main__":
    _serve()
