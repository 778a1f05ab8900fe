"""Tests of Ctrl-C at any moment while the command starts. What Python does before our first line is out of our control.

If the signal arrives before the command has begun, the process ends and prints nothing. A shell reports exit code 130.
"""

from __future__ import annotations

import random
import re
import signal
import subprocess
import sys
import time

import pytest

from tests.helpers.command import ROOT, environment

# Sends the signal at the moment when a module is searched for, no matter which module imports it.
AT_IMPORT = """
import os, signal, sys
class Hit:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, Hit())
from inspector.__main__ import main
raise SystemExit(main({words!r}))
"""
SAID = "meshqc: stopped; no incomplete output file was left behind\n"


def interrupted(module: str, *words: str, ignored: bool = False) -> tuple[int, str]:
    def ignore() -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)

    run = subprocess.run(
        [sys.executable, "-c", AT_IMPORT.format(module=module, words=list(words))],
        env=environment(PYTHONWARNINGS=""),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        preexec_fn=ignore if ignored else None,
    )
    return run.returncode, run.stderr


@pytest.mark.parametrize(
    ("module", "code", "said"),
    [
        ("inspector.cli.exit_codes", -signal.SIGINT, ""),
        ("inspector.names", -signal.SIGINT, ""),
        ("inspector.cli.registry", -signal.SIGINT, ""),
        ("inspector.cli.commands.check", -signal.SIGINT, ""),
        ("inspector.checks.motion.spike", 2, SAID),  # imported when the command runs
    ],
)
def test_ctrl_c_while_a_module_is_imported(module: str, code: int, said: str) -> None:
    assert interrupted(module, "check", str(ROOT / "fixtures" / "manta"), "--no-cache") == (code, said)


def test_who_is_deaf_to_ctrl_c_stays_so() -> None:
    """A shell starts background commands with Ctrl-C ignored (POSIX, 2.11 Signals and Error Handling)."""
    assert interrupted("inspector.cli.exit_codes", "--help", ignored=True) == (0, "")


def test_nobody_else_loses_the_way_of_their_ctrl_c() -> None:
    code = (
        "import signal, inspector, inspector.__main__; inspector.inspect; "
        "assert signal.getsignal(signal.SIGINT) is signal.default_int_handler; "
        "inspector.__main__.main(['checks']); "
        "assert signal.getsignal(signal.SIGINT) is signal.default_int_handler"
    )
    subprocess.run([sys.executable, "-c", code], env=environment(), check=True, capture_output=True, timeout=60)


def test_ctrl_c_at_any_moment_of_the_start() -> None:
    """If Ctrl-C arrives while Python starts, Python may print a traceback. Our code may appear in it only up to the
    line that sets the signal's handler."""
    main = (ROOT / "inspector" / "__main__.py").read_text().splitlines()
    taken_over = next(number for number, line in enumerate(main, 1) if "signal(SIGINT, SIG_DFL)" in line)
    chance, ends = random.Random(10), []
    words = [sys.executable, "-m", "inspector", "--help"]
    start = time.monotonic()
    subprocess.run(words, env=environment(), capture_output=True, check=False, timeout=120)
    whole = time.monotonic() - start
    for _ in range(25):
        run = subprocess.Popen(
            words,
            env=environment(PYTHONWARNINGS=""),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        time.sleep(chance.uniform(0, whole))
        run.send_signal(signal.SIGINT)
        err = run.communicate(timeout=60)[1]
        ends.append(run.returncode)
        ours = re.findall(r'File "[^"]*/inspector/([^"]+)", line (\d+)', err)
        assert all(file == "__init__.py" or (file == "__main__.py" and int(at) <= taken_over) for file, at in ours), err
        assert run.returncode in (0, -signal.SIGINT) or "Traceback" in err, "Python's own ending is 1"
    assert -signal.SIGINT in ends, "some moments lie before the first sentence"
