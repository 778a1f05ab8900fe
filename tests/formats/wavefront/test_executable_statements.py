"""Tests of `call` and `csh`, which would include a file or run a shell command.

Source: OBJ format document (Appendix B1, "General statement"). Python's audit hooks (PEP 578) report every file that is
opened and every process that is started.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from inspector.formats.wavefront.reader import read_frame
from inspector.inspection.inspection import inspect_folder
from tests.helpers.sequences import heard, shot, write

_STARTS = {
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "os.spawn",
    "os.fork",
    "os.forkpty",
    "pty.spawn",
}
_watching: list[list[tuple[str, object]]] = []


def _hook(event: str, arguments: tuple[object, ...]) -> None:
    if _watching and (event == "open" or event in _STARTS):
        _watching[-1].append((event, arguments[0] if arguments else None))


sys.addaudithook(_hook)  # a hook can't be removed; it does nothing unless a test is watching


@contextmanager
def watched() -> Iterator[list[tuple[str, object]]]:
    _watching.append([])
    try:
        yield _watching[-1]
    finally:
        _watching.pop()


def test_the_hook_sees_an_open_and_a_start(tmp_path: Path) -> None:
    with watched() as events:
        (tmp_path / "x").write_text("")
        sys.audit("os.system", b"true")
    assert [event for event, _ in events] == ["open", "os.system"]


def test_nothing_is_followed_and_nothing_is_run_by_reading() -> None:
    text = b"call other.obj 1\ncsh touch /tmp/x\ncsh -touch /tmp/x\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
    read_frame(text)  # modules that are imported late are imported now
    with watched() as events:
        frame = read_frame(text)
    assert events == []
    (problem,) = frame.problems
    assert (problem.kind, problem.count) == ("executable-statement", 3)
    assert [place.line for place in problem.places] == [1, 2]
    assert frame.faces == 1


def test_an_inspection_opens_the_frames_and_their_library_and_no_more(tmp_path: Path) -> None:
    acting = b"call ../outside.obj\ncall inside.obj\ncsh touch x\nmtllib ../outside.mtl\n"
    files = {name: acting + data if name.endswith("5.obj") else data for name, data in shot().items()}
    folder = write(tmp_path / "in", files | {"inside.obj": b"v 0 0 0\n"})
    write(tmp_path, {"outside.obj": b"v 0 0 0\n", "outside.mtl": b"newmtl skin\n"})
    inspect_folder(folder)
    with watched() as events:
        (inspection,) = inspect_folder(folder).inspections
    assert {event for event, _ in events} == {"open"}
    # A number is the descriptor of a file that is already open.
    opened = [Path(str(path)).name for _, path in events if not isinstance(path, int)]
    # The parent folders are opened one by one, so that none of them can be a link (sequence/storage.py).
    on_the_way = {"", *folder.resolve().parts}
    # The reference frame may be opened twice, because a check that compares arrays reads it again.
    assert set(opened) - on_the_way == {"manta.mtl", *(name for name in files if name.endswith(".obj"))}
    assert ("executable-statements", "warning", [5.0]) in heard(inspection)
