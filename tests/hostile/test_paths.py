"""Tests of the paths that are read and written, as shown by the interpreter's audit events (Python documentation,
"Audit events table")."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run.executors import InlineExecutor
from tests.helpers.command import ROOT, digests, environment
from tests.helpers.hostile.swapping import Swap, swap  # noqa: F401
from tests.helpers.sequences import finding_of, heard, shot, write

SECRET = b"newmtl secret\nmap_Kd secret.png\nv 6 6 6\n"


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    return write(tmp_path / "outside", {**shot(), "secret": SECRET, "manta.mtl": SECRET})


@pytest.mark.parametrize("name", ["manta.0007.obj", "manta.mtl", "skin.png"])
def test_a_file_swapped_for_a_link_is_not_read(
    name: str,
    tmp_path: Path,
    outside: Path,
    swap: Swap,  # noqa: F811
) -> None:
    folder = write(tmp_path / "in", shot())
    swap(folder / name, outside / name)
    said = heard(inspect_folder(folder, executor=InlineExecutor()).inspections[0])
    assert (folder / name).is_symlink(), "the swap took place"
    wanted = {"manta.0007.obj": "unreadable", "manta.mtl": "library-text", "skin.png": "texture-damaged"}[name]
    assert wanted in {check for check, _, _ in said}
    assert "secret" not in str(said)


def test_a_folder_swapped_for_a_link_is_not_entered(
    tmp_path: Path,
    outside: Path,
    swap: Swap,  # noqa: F811
) -> None:
    folder = write(tmp_path / "in" / "deep", shot())
    swap(folder, outside)
    inspection = inspect_folder(tmp_path / "in", executor=InlineExecutor()).inspections[0]
    assert folder.is_symlink()
    assert not any(one.readable for one in inspection.series.facts)
    assert len(finding_of(inspection, "unreadable").frames) == 12


def test_links_inside_the_folder_are_read_and_delivered(tmp_path: Path) -> None:
    folder = write(tmp_path / "in", shot())
    for name in ("manta.0007.obj", "manta.mtl", "skin.png"):
        (folder / "store").mkdir(exist_ok=True)
        (folder / name).rename(folder / "store" / f"{name}_")
        (folder / name).symlink_to(f"store/{name}_")
    assert heard(inspect_folder(folder, executor=InlineExecutor()).inspections[0]) == []
    run = watched(tmp_path, "fix", folder, "--output", tmp_path / "out", "--with", "scale:factor=2")
    assert run.returncode == 0, run.stderr
    assert (tmp_path / "out" / "manta.0007.obj").is_file()
    assert not (tmp_path / "out" / "manta.mtl").is_symlink()


WATCH = """
import sys, os
log = os.open({log!r}, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
def hook(event, arguments):
    if event in ("subprocess.Popen", "os.exec", "os.fork", "os.forkpty", "os.posix_spawn", "os.spawn", "os.system"):
        os.write(log, ("process " + repr(arguments) + "\\n").encode())
    elif event == "open" and isinstance(arguments[0], (str, bytes)):
        path, mode, flags = arguments
        writes = flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND)
        os.write(log, (b"write " if writes else b"read ") + os.fsencode(path) + b"\\n")
    elif event in ("os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.symlink", "os.link", "os.truncate"):
        for path in arguments[:2]:
            if isinstance(path, (str, bytes)):
                os.write(log, b"write " + os.fsencode(path) + b"\\n")
sys.addaudithook(hook)
from inspector.__main__ import main
raise SystemExit(main())
"""


def watched(folder: Path, *words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run meshqc. The file `log` in `folder` lists every file that meshqc opens or changes, and every process that
    meshqc starts."""
    code = WATCH.format(log=str(folder / "log"))
    own = {f"XDG_{name}_HOME": str(folder / name.lower()) for name in ("CACHE", "STATE", "CONFIG")}
    return subprocess.run(
        [sys.executable, "-B", "-c", code, *map(str, words)],
        env=environment(PYTHONPATH=str(ROOT), **own),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def log(folder: Path, kind: str) -> list[str]:
    lines = (folder / "log").read_text(errors="surrogateescape").splitlines()
    return [line.split(" ", 1)[1] for line in lines if line.startswith(f"{kind} ")]


ACTING = b"call /bin/touch.obj touched\ncsh touch touched\ncsh -touch touched\ncall evil.script\n"


def test_only_out_cache_and_state_are_written_and_nothing_is_started(tmp_path: Path) -> None:
    files = {
        name: ACTING + data.replace(b"mtllib manta.mtl", b"mtllib manta.mtl ../outside/away.mtl")
        if ".obj" in name
        else data
        for name, data in shot().items()
    }
    folder = write(tmp_path / "in", {**files, "evil.script": b"v 1 1 1\n"})
    more = b"newmtl eye\nmap_Kd /etc/hostname\nmap_Ks ../outside/away.png\nmap_Bump door/away.png\n"
    (folder / "manta.mtl").write_bytes((folder / "manta.mtl").read_bytes() + more)
    (folder / "door").symlink_to(write(tmp_path / "outside", {"away.png": b"x", "away.mtl": SECRET}))
    before = digests(folder)
    checked = watched(tmp_path, "check", folder)
    assert checked.returncode in (0, 1), checked.stderr
    assert "executable-statements" in watched(tmp_path, "check", folder, "--json").stdout
    fixed = watched(tmp_path, "fix", folder, "--output", tmp_path / "out", "--all", "--with", "scale:factor=2")
    assert fixed.returncode in (0, 1), fixed.stderr
    assert (tmp_path / "out").is_dir(), fixed.stdout + fixed.stderr
    assert log(tmp_path, "process") == []
    assert digests(folder) == before
    allowed = (tmp_path / "cache", tmp_path / "state", tmp_path / "out")
    written = [Path(path) for path in log(tmp_path, "write") if not path.startswith("/dev/")]
    strange = [
        path
        for path in written
        if not any(path == one or one in path.parents for one in allowed)
        and not (path.is_relative_to(tmp_path) and path.relative_to(tmp_path).parts[0].startswith(".out."))
        and path.is_absolute()
    ]
    assert strange == []
    assert any(path.is_relative_to(tmp_path / "out") or ".out." in str(path) for path in written), "the hook hears"
    read = {Path(path).name for path in log(tmp_path, "read")}  # only the last part if the folder is already open
    assert {"manta.0001.obj", "manta.mtl", "skin.png"} <= read, "the hook hears"
    assert not read & {"away.png", "away.mtl", "hostname", "evil.script", "outside"}
    assert b"call" not in (tmp_path / "out" / "manta.0001.obj").read_bytes()
    assert not list(tmp_path.rglob("touched"))
