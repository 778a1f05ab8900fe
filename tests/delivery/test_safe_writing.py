"""Tests of deliveries that fail or stop halfway."""

from __future__ import annotations

import errno
import os
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from inspector.delivery import staging_folder as staging_module
from inspector.delivery.apply import Corrections
from inspector.delivery.choices import Choice, lossless_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.destination import parts_of
from inspector.delivery.journal import Journal, WrittenFile
from inspector.delivery.open_folder import OpenFolder
from inspector.delivery.plan import Plan, plan_digest
from inspector.delivery.planning import make_plan
from inspector.delivery.staging_folder import Staging
from inspector.errors import Cancelled, MeshqcError, Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import files_of
from tests.helpers.meshes import Mesh, wing
from tests.helpers.sequences import look_at_all, shot, write
from tests.helpers.surfaces import lit, sequence

FILES = shot({4: bare})


@pytest.fixture
def planned(tmp_path: Path) -> Plan:
    inspection = look_at_all(tmp_path / "in", FILES)
    return make_plan(inspection, lossless_choices(inspection))


@pytest.mark.parametrize("out", ["in/out", "in", ".", "in/../in/deep", "link/out", "in/sub/out"])
def test_never_inside_or_over_the_source(tmp_path: Path, planned: Plan, out: str) -> None:
    (tmp_path / "link").symlink_to("in")
    (tmp_path / "in" / "sub").mkdir()
    with pytest.raises(MeshqcError, match=r"never written to|already|no such folder|not a valid name for a new folder"):
        deliver(planned, tmp_path / out)
    assert files_of(tmp_path / "in") == FILES
    assert {path.name for path in tmp_path.iterdir()} == {"in", "link"}


def test_never_inside_a_folder_of_textures(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    inspection = look_at_all(tmp_path / "in", FILES, textures=(tmp_path / "shared",))
    with pytest.raises(Refusal, match="never written to"):
        deliver(make_plan(inspection, lossless_choices(inspection)), tmp_path / "shared" / "out")


@pytest.mark.parametrize("kind", ["folder", "file", "dangling link"])
def test_what_is_there_is_not_touched(tmp_path: Path, planned: Plan, kind: str) -> None:
    out = tmp_path / "out"
    {"folder": out.mkdir, "file": out.touch, "dangling link": lambda: out.symlink_to("nowhere")}[kind]()
    with pytest.raises(Refusal, match="already exists"):
        deliver(planned, out)
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}


def test_a_full_disk_leaves_nothing_half_written_and_the_work_is_resumed(
    tmp_path: Path, planned: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = 0

    def fsync(descriptor: int) -> None:
        nonlocal written
        written += 1
        if written > 15:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(staging_module.os, "fsync", fsync)
        with pytest.raises(MeshqcError, match=r"No space left on device .*was not created"):
            deliver(planned, tmp_path / "out")
    assert files_of(tmp_path / "in") == FILES
    assert not (tmp_path / "out").exists()
    (left,) = (path for path in tmp_path.iterdir() if path.name.endswith(".unfinished"))
    kept = {path.name for path in left.glob("files/*.obj")}
    assert 3 < len(kept) < 12

    made = []
    whole = Corrections.make

    def counted(self: Corrections, slot: Any) -> Any:
        made.append(slot.file_name)
        return whole(self, slot)

    monkeypatch.setattr(Corrections, "make", counted)
    delivery = deliver(planned, tmp_path / "out")
    assert not set(made) & (kept - {sorted(kept)[-1]})  # the last file may have no line in the journal yet
    assert delivery.proof.clean
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}


def test_a_stop_is_obeyed_between_files_and_resumed(tmp_path: Path, planned: Plan) -> None:
    asked = 0

    def after_five() -> bool:
        nonlocal asked
        asked += 1
        return asked > 5

    with pytest.raises(Cancelled):
        deliver(planned, tmp_path / "out", cancelled=after_five)
    assert not (tmp_path / "out").exists()
    assert deliver(planned, tmp_path / "out").proof.clean


def test_what_was_spoiled_in_unfinished_work_is_written_anew(tmp_path: Path, planned: Plan) -> None:
    asked = 0

    def at_the_end() -> bool:
        nonlocal asked
        asked += 1
        return asked > 20

    with pytest.raises(Cancelled):
        deliver(planned, tmp_path / "out", cancelled=at_the_end)
    (left,) = (path for path in tmp_path.iterdir() if path.name.endswith(".unfinished"))
    (left / "files/manta.0004.obj").write_bytes(b"v 0 0 0\n")
    (left / "files/stray.obj").write_bytes(b"not ours")
    deliver(planned, tmp_path / "out")
    assert "stray.obj" not in files_of(tmp_path / "out")
    assert (tmp_path / "out" / "manta.0004.obj").stat().st_size > 1000


def test_a_dropped_plan_s_unfinished_work_is_cleared_away(tmp_path: Path, planned: Plan) -> None:
    with pytest.raises(Cancelled):
        deliver(planned, tmp_path / "out", cancelled=lambda: bool(list(tmp_path.glob(".*/files/*7.obj"))))
    inspection = planned.inspection
    deliver(make_plan(inspection, []), tmp_path / "out")
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}
    assert (tmp_path / "out" / "manta.0004.obj").read_bytes() == FILES["manta.0004.obj"]


def test_unfinished_work_for_another_name_is_left_alone(tmp_path: Path, planned: Plan) -> None:
    with pytest.raises(Cancelled):
        deliver(planned, tmp_path / "first", cancelled=lambda: any(tmp_path.glob(".*/files/*")))
    (theirs,) = (path for path in tmp_path.iterdir() if path.name.endswith(".unfinished"))
    deliver(planned, tmp_path / "second")
    assert theirs.is_dir()
    deliver(planned, tmp_path / "first")
    assert {path.name for path in tmp_path.iterdir()} == {"in", "first", "second"}


@pytest.mark.parametrize("content", [{"notes.txt": b"mine"}, {"journal": b"Dear diary\n"}, {"journal/x": b""}])
def test_a_folder_that_is_not_ours_is_never_taken(tmp_path: Path, planned: Plan, content: dict[str, bytes]) -> None:
    place = Staging(tmp_path / "out", "").folder
    write(place, content)
    with pytest.raises(Refusal, match="already exists and was not created by meshqc"):
        deliver(planned, tmp_path / "out")
    assert files_of(place) == content
    (tmp_path / "out").mkdir()  # OUT could never be completed now, if the folder were the tool's
    deliver(planned, tmp_path / "elsewhere")
    assert files_of(place) == content


def test_a_link_in_the_way_is_not_followed(tmp_path: Path, planned: Plan) -> None:
    (tmp_path / "theirs").mkdir()
    Staging(tmp_path / "out", "").folder.symlink_to("theirs")
    with pytest.raises(Refusal, match="was not created by meshqc"):
        deliver(planned, tmp_path / "out")
    assert list((tmp_path / "theirs").iterdir()) == []


@pytest.mark.parametrize("cut", [0, 1, 20])
def test_a_journal_torn_in_its_head_is_begun_anew(tmp_path: Path, planned: Plan, cut: int) -> None:
    with pytest.raises(Cancelled):
        deliver(planned, tmp_path / "out", cancelled=lambda: any(tmp_path.glob(".*/files/*")))
    journal = Staging(tmp_path / "out", "").folder / "journal"
    journal.write_bytes(journal.read_bytes()[:cut])
    assert deliver(planned, tmp_path / "out").proof.clean
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}


def test_a_line_torn_in_the_journal_takes_no_other_with_it(tmp_path: Path) -> None:
    journal = Journal(OpenFolder.at(tmp_path), "out", "plan")
    for name in "ab":
        journal.record(WrittenFile(name, (), ""))
    journal.close()
    whole = (tmp_path / "journal").read_bytes()
    (tmp_path / "journal").write_bytes(whole[:-5])
    journal = Journal(OpenFolder.at(tmp_path), "out", "plan")
    assert list(journal.done) == ["a"]
    journal.record(WrittenFile("c", (), ""))
    journal.close()
    journal = Journal(OpenFolder.at(tmp_path), "out", "plan")
    assert list(journal.done) == ["a", "c"]
    journal.close()


def test_a_second_writer_is_refused_while_the_first_is_at_work(tmp_path: Path, planned: Plan) -> None:
    heard: list[str] = []

    def try_as_well(stage: str, done: int, _: int) -> None:
        if (stage, done) in (("write", 5), ("check", 3)):
            with pytest.raises(Refusal, match="another run is writing to this path") as refusal:
                deliver(planned, tmp_path / "out")
            heard.append(str(refusal.value))

    assert deliver(planned, tmp_path / "out", try_as_well).proof.clean
    assert len(heard) == 2
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}


def test_what_appears_meanwhile_is_not_touched_and_the_work_cleared_away(tmp_path: Path, planned: Plan) -> None:
    def theirs(stage: str, done: int, of: int) -> None:
        if (stage, done) == ("check", of):
            (tmp_path / "out").mkdir()

    with pytest.raises(Refusal, match="taken in the meantime"):
        deliver(planned, tmp_path / "out", theirs)
    assert list((tmp_path / "out").iterdir()) == []
    assert {path.name for path in tmp_path.iterdir()} == {"in", "out"}


TWICE = FILES | {name.replace("manta.0", "Manta.0"): data for name, data in FILES.items()}


def test_names_that_differ_in_case_are_both_delivered_where_the_disk_tells_them_apart(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path / "in", TWICE)
    if len(files_of(tmp_path / "in")) < len(TWICE):
        pytest.skip("NOT TESTED: this file system takes such names for one")
    deliver(make_plan(inspection, []), tmp_path / "out")
    delivered = files_of(tmp_path / "out")
    assert {name: delivered[name] for name in TWICE} == TWICE
    assert "differ only in letter case" in delivered["HANDOFF.txt"].decode()


def test_names_that_differ_in_case_are_refused_where_the_disk_takes_them_for_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The probe of the file system is replaced, because this machine can't mount a file system that ignores case."""
    inspection = look_at_all(tmp_path / "in", TWICE)
    monkeypatch.setattr(Staging, "is_case_sensitive", lambda _: False)
    reason = r"Manta\.0001\.obj and manta\.0001\.obj: the file system of .* treats these names as the same"
    with pytest.raises(Refusal, match=reason):
        deliver(make_plan(inspection, []), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_library_that_changed_since_it_was_inspected_is_not_delivered(tmp_path: Path, planned: Plan) -> None:
    library = tmp_path / "in" / "manta.mtl"
    before = library.stat()
    library.write_bytes(library.read_bytes().replace(b"Kd 1 1 1", b"Kd 0 0 0"))
    os.utime(library, ns=(before.st_atime_ns, before.st_mtime_ns))  # size and time are unchanged
    with pytest.raises(MeshqcError, match=r"manta\.mtl: changed after it was inspected"):
        deliver(planned, tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("name", ["manta.0004.obj", "manta.0009.obj", "manta.mtl", "skin.png"])
@pytest.mark.parametrize("when", ["before", "write", "read back", "check"])
def test_a_source_that_vanishes_is_named(tmp_path: Path, planned: Plan, name: str, when: str) -> None:
    source = tmp_path / "in" / name

    def vanish(stage: str, done: int, of: int) -> None:
        if stage == when and done == of:
            source.unlink()

    if when == "before":
        source.unlink()
    if when == "check":
        assert deliver(planned, tmp_path / "out", vanish).proof.clean
        return
    with pytest.raises(MeshqcError, match=f"{name}: No such file"):
        deliver(planned, tmp_path / "out", vanish)
    assert not (tmp_path / "out").exists()
    source.write_bytes(FILES[name])
    inspection = look_at_all(tmp_path / "in", FILES)
    assert deliver(make_plan(inspection, lossless_choices(inspection)), tmp_path / "out").proof.clean


@pytest.mark.parametrize("place", ["../x", "/x", "a//b", "a/../../x", "", ".", "a\0b"])
def test_no_place_leads_out_of_the_delivered_folder(place: str) -> None:
    with pytest.raises(Refusal, match="not a valid path inside the delivered folder"):
        list(parts_of(place))


def test_progress_tells_each_stage_to_its_end(tmp_path: Path, planned: Plan) -> None:
    told: dict[str, list[tuple[int, int]]] = {}
    deliver(planned, tmp_path / "out", lambda stage, done, of: told.setdefault(stage, []).append((done, of)))
    assert list(told) == ["write", "read back", "check"]
    assert {stage: steps[-1] for stage, steps in told.items()} == {
        "write": (14, 14),
        "read back": (14, 14),
        "check": (12, 12),
    }


def test_the_same_fix_from_another_donor_does_not_resume(tmp_path: Path) -> None:
    donor, out = tmp_path / "rest.obj", tmp_path / "out"
    first, second = wing(1), wing(1).edit(uvs=wing(1).uvs * 0.5)

    def plan_with(rest: Mesh) -> Plan:
        donor.write_bytes(rest.text())
        inspection = look_at_all(tmp_path / "in", shot(dict.fromkeys(range(1, 13), bare)))
        return make_plan(inspection, [Choice("uv-donor", {"from": str(donor)})])

    with pytest.raises(Cancelled):
        deliver(plan_with(first), out, cancelled=lambda: bool(list(tmp_path.glob(".*/files/*7.obj"))))
    deliver(plan_with(second), out)
    given = {read_frame(path.read_bytes()).uvs.tobytes() for path in out.glob("*.obj")}
    assert given == {read_frame(second.text()).uvs.tobytes()}


def test_the_same_fix_by_another_reference_does_not_resume(tmp_path: Path) -> None:
    write(tmp_path / "in", sequence(lit))
    digests = {
        plan_digest(make_plan(look_at_all(tmp_path / "in", {}, reference=number), [Choice("recompute-normals")]))
        for number in (Fraction(1), Fraction(4), Fraction(4))
    }
    assert len(digests) == 2
