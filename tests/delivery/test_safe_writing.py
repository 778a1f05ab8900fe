"""Whatever goes wrong: sources untouched, nothing half written under a final name, begun work resumed."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from inspector.checks.base.inspect import FolderInspection
from inspector.delivery import staging as staging_module
from inspector.delivery.apply import Corrections
from inspector.delivery.deliver import deliver
from inspector.delivery.place import parts_of
from inspector.delivery.plan import Plan, exact_choices, make_plan
from inspector.errors import Cancelled, MeshqcError, Refusal
from tests.fixes.test_uv_restore import bare
from tests.helpers.fixing import files_of
from tests.helpers.sequences import look_at_all, shot

FILES = shot({4: bare})


@pytest.fixture
def planned(tmp_path: Path) -> tuple[FolderInspection, Plan]:
    inspection = look_at_all(tmp_path / "in", FILES)
    return inspection, make_plan(inspection, exact_choices(inspection))


Planned = tuple[FolderInspection, Plan]


@pytest.mark.parametrize("out", ["in/out", "in", ".", "in/../in/deep", "link/out", "in/sub/out"])
def test_never_inside_or_over_the_source(tmp_path: Path, planned: Planned, out: str) -> None:
    (tmp_path / "link").symlink_to("in")
    (tmp_path / "in" / "sub").mkdir()
    with pytest.raises(MeshqcError, match=r"only read|already|no such folder|name a new folder"):
        deliver(*planned, tmp_path / out)
    assert files_of(tmp_path / "in") == FILES
    assert {path.name for path in tmp_path.iterdir()} == {"in", "link"}


def test_never_inside_a_folder_of_textures(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    inspection = look_at_all(tmp_path / "in", FILES, textures=(tmp_path / "shared",))
    with pytest.raises(Refusal, match="only read"):
        deliver(inspection, make_plan(inspection, exact_choices(inspection)), tmp_path / "shared" / "out")


@pytest.mark.parametrize("kind", ["folder", "file", "dangling link"])
def test_what_is_there_is_not_touched(tmp_path: Path, planned: Planned, kind: str) -> None:
    out = tmp_path / "out"
    {"folder": out.mkdir, "file": out.touch, "dangling link": lambda: out.symlink_to("nowhere")}[kind]()
    with pytest.raises(Refusal, match="is there already and is not touched"):
        deliver(*planned, out)
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}


def test_a_full_disk_leaves_nothing_half_written_and_the_work_is_resumed(
    tmp_path: Path, planned: Planned, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = 0

    def fsync(descriptor: int) -> None:
        nonlocal written
        written += 1
        if written > 15:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(staging_module.os, "fsync", fsync)
        with pytest.raises(MeshqcError, match=r"No space left on device .*Nothing stands under the name"):
            deliver(*planned, tmp_path / "out")
    assert files_of(tmp_path / "in") == FILES
    assert not (tmp_path / "out").exists()
    (left,) = (path for path in tmp_path.iterdir() if path.name.endswith(".unfinished"))
    kept = {path.name for path in left.glob("*.obj")}
    assert 3 < len(kept) < 12

    made = []
    whole = Corrections.make

    def counted(self: Corrections, slot: Any) -> Any:
        made.append(slot.file_name)
        return whole(self, slot)

    monkeypatch.setattr(Corrections, "make", counted)
    delivery = deliver(*planned, tmp_path / "out")
    assert not set(made) & (kept - {sorted(kept)[-1]})  # the last one may lack its line in the journal
    assert delivery.proof.clean
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}


def test_a_stop_is_obeyed_between_files_and_resumed(tmp_path: Path, planned: Planned) -> None:
    asked = 0

    def after_five() -> bool:
        nonlocal asked
        asked += 1
        return asked > 5

    with pytest.raises(Cancelled):
        deliver(*planned, tmp_path / "out", cancelled=after_five)
    assert not (tmp_path / "out").exists()
    assert deliver(*planned, tmp_path / "out").proof.clean


def test_what_was_spoiled_in_unfinished_work_is_written_anew(tmp_path: Path, planned: Planned) -> None:
    asked = 0

    def at_the_end() -> bool:
        nonlocal asked
        asked += 1
        return asked > 20

    with pytest.raises(Cancelled):
        deliver(*planned, tmp_path / "out", cancelled=at_the_end)
    (left,) = (path for path in tmp_path.iterdir() if path.name.endswith(".unfinished"))
    (left / "manta.0004.obj").write_bytes(b"v 0 0 0\n")
    (left / "stray.obj").write_bytes(b"not ours")
    deliver(*planned, tmp_path / "out")
    assert "stray.obj" not in files_of(tmp_path / "out")
    assert (tmp_path / "out" / "manta.0004.obj").stat().st_size > 1000


def test_another_plan_s_unfinished_work_is_left_alone(tmp_path: Path, planned: Planned) -> None:
    with pytest.raises(Cancelled):
        deliver(*planned, tmp_path / "out", cancelled=lambda: True)
    (theirs,) = (path for path in tmp_path.iterdir() if path.name.endswith(".unfinished"))
    inspection, _ = planned
    deliver(inspection, make_plan(inspection, []), tmp_path / "out")
    assert theirs.is_dir()


def test_a_plan_for_another_inspection_is_refused(tmp_path: Path, planned: Planned) -> None:
    with pytest.raises(MeshqcError, match="another inspection"):
        deliver(look_at_all(tmp_path / "in", FILES), planned[1], tmp_path / "out")


@pytest.mark.parametrize("place", ["../x", "/x", "a//b", "a/../../x", "", ".", "a\0b"])
def test_no_place_leads_out_of_the_delivered_folder(place: str) -> None:
    with pytest.raises(Refusal, match="leads out"):
        list(parts_of(place))


def test_progress_tells_each_stage_to_its_end(tmp_path: Path, planned: Planned) -> None:
    told: dict[str, list[tuple[int, int]]] = {}
    deliver(*planned, tmp_path / "out", lambda stage, done, of: told.setdefault(stage, []).append((done, of)))
    assert list(told) == ["write", "read back", "check"]
    assert {stage: steps[-1] for stage, steps in told.items()} == {
        "write": (14, 14),
        "read back": (14, 14),
        "check": (12, 12),
    }
