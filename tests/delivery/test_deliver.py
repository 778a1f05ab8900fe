"""Tests of the delivered folder."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
from fractions import Fraction
from pathlib import Path

import pytest

from inspector.checks.base.finding import Severity
from inspector.delivery.choices import Choice, all_choices, lossless_choices
from inspector.delivery.deliver import Delivery, deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.receipt import sums_bytes
from inspector.delivery.verify import compare_untouched
from inspector.errors import MeshqcError
from inspector.inspection.inspection import inspect_folder
from inspector.names import counted
from inspector.sequence.discovery.settings import Settings
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import files_of
from tests.helpers.meshes import wing
from tests.helpers.sequences import frames, look_at_all, shot, write


def delivered(folder: Path, out: Path, settings: Settings | None = None, every: bool = True) -> Delivery:
    inspection = inspect_folder(folder, settings)
    choices = all_choices(inspection) if every else lossless_choices(inspection)
    before = files_of(folder)
    delivery = deliver(make_plan(inspection, choices), out)
    assert files_of(folder) == before
    assert [path.name for path in out.parent.iterdir()] == [out.name]
    return delivery


def test_the_kelp_comes_out_without_an_error(demo: Path, tmp_path: Path) -> None:
    source = demo / "kelp_broken"
    settings = Settings(
        (Fraction(1), Fraction(15)), 1.8, rate=Fraction(25), uvs_from=source / "kelp_rest.obj", invent_at_most=3
    )
    delivery = delivered(source, tmp_path / "kelp", settings)
    assert delivery.after.count(Severity.ERROR) == delivery.after.count(Severity.WARNING) == 0
    assert delivery.proof.clean
    assert {finding.check for _, finding in delivery.proof.gone} == {
        *("library-missing", "texture-missing", "no-uvs", "missing-frames", "scale-suspect")
    }
    assert len([name for name in files_of(tmp_path / "kelp") if name.endswith(".obj")]) == 15
    note = (tmp_path / "kelp" / "HANDOFF.txt").read_text()
    for words in ("25 fps", "frames 1 to 15", "Constant scale: 0.01", "kelp_broken.0013.obj: hold"):
        assert words in note
    assert delivery.after.count(Severity.NOTE) == 2  # as printed by `meshqc fix` and shown in the manual
    assert "Remaining findings: no errors or warnings; 2 notes.\n" in note


@pytest.mark.parametrize("every", [False, True])
def test_the_broken_manta_keeps_what_no_fix_answers_and_gains_nothing(demo: Path, tmp_path: Path, every: bool) -> None:
    delivery = delivered(demo / "manta_broken", tmp_path / "manta", Settings(invent_at_most=7), every=every)
    assert delivery.proof.clean
    assert delivery.proof.sources == len(files_of(demo / "manta_broken"))
    left = {finding.check for finding in delivery.after.inspections[0].findings if finding.severity > Severity.NOTE}
    note = (tmp_path / "manta" / "HANDOFF.txt").read_text()
    assert f"\n  and {counted(delivery.after.count(Severity.NOTE), 'note')}\n" in note
    if every:
        assert left == {"material-undefined"}  # in mid grey, it would be another material all the same


def test_a_healthy_folder_comes_out_as_byte_copies(demo: Path, tmp_path: Path) -> None:
    delivered(demo / "manta", tmp_path / "manta")
    copy = files_of(tmp_path / "manta")
    assert {name: copy[name] for name in files_of(demo / "manta")} == files_of(demo / "manta")
    assert copy.keys() - files_of(demo / "manta").keys() == {"HANDOFF.txt", "SHA256SUMS", "meshqc-receipt.json"}


def test_what_was_delivered_is_delivered_again_unchanged(demo: Path, tmp_path: Path) -> None:
    first = delivered(demo / "manta_broken", tmp_path / "first")
    inspection = inspect_folder(first.out)
    assert make_plan(inspection, lossless_choices(inspection)).steps == ()


def test_sha256sum_accepts_the_list(demo: Path, tmp_path: Path) -> None:
    delivery = delivered(demo / "manta_broken", tmp_path / "manta")
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", "SHA256SUMS"],
        cwd=delivery.out,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) == len(files_of(delivery.out)) - 1


def test_names_with_line_ends_and_backslashes_are_escaped_as_sha256sum_wants(tmp_path: Path) -> None:
    names = ["plain", "two\nlines", "back\\slash", "b\udcfcd"]
    for name in names:
        (tmp_path / name).write_bytes(b"x")
    digest = hashlib.sha256(b"x").hexdigest()
    (tmp_path / "SUMS").write_bytes(sums_bytes((name, digest) for name in names))
    assert (
        subprocess.run(
            ["sha256sum", "-c", "--strict", "--quiet", "SUMS"], cwd=tmp_path, check=False, timeout=120
        ).returncode
        == 0
    )


def test_the_receipt_tells_every_file_before_and_after(demo: Path, tmp_path: Path) -> None:
    delivery = delivered(demo / "manta_broken", tmp_path / "manta", Settings(invent_at_most=7))
    receipt = json.loads((delivery.out / "meshqc-receipt.json").read_text())
    source = {name: hashlib.sha256(data).hexdigest() for name, data in files_of(demo / "manta_broken").items()}
    made = {name: hashlib.sha256(data).hexdigest() for name, data in files_of(delivery.out).items()}
    assert {one["path"]: one["sha256"] for one in receipt["sources"]} == source
    assert {one["path"]: one["after"] for one in receipt["files"]} == {
        name: digest
        for name, digest in made.items()
        if name not in ("HANDOFF.txt", "SHA256SUMS", "meshqc-receipt.json")
    }
    assert all(one["sha256"] == source[one["path"]] for file in receipt["files"] for one in file["before"])
    assert {one["fix"] for one in receipt["fixes"]} >= {"uv-restore", "fill-frames"}
    # The faces of frames 20 and 22 are restored exactly.
    assert {one["frame"] for one in receipt["invented"]} == {4, 7, 10, 19, 21, 23}


def test_the_receipt_does_not_claim_frames_that_cannot_be_read(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path / "in", shot() | {"manta.0005.obj": b"\0" * 100})
    delivery = deliver(make_plan(inspection, [Choice("scale", {"factor": 2.0})]), tmp_path / "out")
    (step,) = json.loads((tmp_path / "out" / "meshqc-receipt.json").read_text())["fixes"]
    assert step["frames"] == [number for number in range(1, 13) if number != 5]
    assert (tmp_path / "out" / "manta.0005.obj").read_bytes() == b"\0" * 100
    assert [one.check for one in delivery.after.inspections[0].findings if Fraction(5) in one.frames] == ["unreadable"]


def test_several_sequences_keep_their_folders(tmp_path: Path) -> None:
    one = {f"a/{name}": data for name, data in shot({4: bare}).items()}
    two = {f"b/deep/{name}": data for name, data in shot({2: bare}).items()}
    inspection = look_at_all(tmp_path / "in", one | two | {"notes.txt": b"", "a/rest.obj": wing(0).text()})
    deliver(make_plan(inspection, lossless_choices(inspection)), tmp_path / "out")
    assert (
        files_of(tmp_path / "out").keys() - {"HANDOFF.txt", "SHA256SUMS", "meshqc-receipt.json"} == (one | two).keys()
    )
    assert "a/rest.obj: a mesh file without a frame number" in (tmp_path / "out" / "HANDOFF.txt").read_text()


def test_one_repaired_library_serves_two_sequences(tmp_path: Path) -> None:
    files = shot() | frames({n: wing(n) for n in range(1, 9)}, "twin.")
    files |= {"manta.mtl": b"newmtl skin\nmap_Kd C:\\gone\\skin.png\n", "maps/skin.png": files.pop("skin.png")}
    inspection = look_at_all(tmp_path / "in", files)
    delivery = deliver(make_plan(inspection, lossless_choices(inspection)), tmp_path / "out")
    assert delivery.proof.clean
    assert (tmp_path / "out" / "manta.mtl").read_bytes() == b"newmtl skin\nmap_Kd textures/skin.png\n"


def test_a_reference_that_leads_outside_is_named_and_not_copied(tmp_path: Path) -> None:
    write(tmp_path, {"secret.png": b"secret"})
    files = shot() | {"manta.mtl": b"newmtl skin\nmap_Kd ../secret.png\n"}
    inspection = look_at_all(tmp_path / "in", files)
    delivery = deliver(make_plan(inspection, lossless_choices(inspection)), tmp_path / "out")
    assert b"secret" not in files_of(delivery.out).values()
    assert "../secret.png: outside the source folders, not opened" in (delivery.out / "HANDOFF.txt").read_text()


def test_hostile_names_reach_no_screen_raw(tmp_path: Path) -> None:
    files = {name: data.replace(b"usemtl skin", b"usemtl sk\x1b]0;in") for name, data in shot({4: bare}).items()}
    inspection = look_at_all(tmp_path / "in", files)
    deliver(make_plan(inspection, lossless_choices(inspection)), tmp_path / "out")
    assert b"\x1b" not in (tmp_path / "out" / "HANDOFF.txt").read_bytes()
    assert b"usemtl sk\x1b]0;in" in (tmp_path / "out" / "manta.0004.obj").read_bytes()


def test_a_frame_number_that_changes_is_followed(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path / "in", shot({4: bare}))
    plan = make_plan(inspection, [*lossless_choices(inspection), Choice("renumber", {"start": "1001"})])
    delivery = deliver(plan, tmp_path / "out")
    assert delivery.proof.clean
    assert delivery.after.inspections[0].sequence.files[0].number == 1001


def test_a_block_that_no_fix_may_touch_is_held_against_the_source() -> None:
    before = b"# head\nv 0 0 0\nf 1 1 1\n"
    assert compare_untouched(before, before.replace(b"f 1 1 1", b"f 1/1 1/1 1/1"), [b"f"], "a.obj") == 2
    with pytest.raises(MeshqcError, match="lines that should be unchanged differ"):
        compare_untouched(before, before.replace(b"v 0", b"v 1"), [b"f"], "a.obj")
    with pytest.raises(MeshqcError, match="lines that should be unchanged"):
        compare_untouched(before, before + b"# tail\n", [b"f"], "a.obj")


def test_a_fix_that_touches_more_than_it_says_delivers_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inspection = look_at_all(tmp_path / "in", shot({4: bare}))
    plan = make_plan(inspection, lossless_choices(inspection))
    monkeypatch.setattr("inspector.delivery.apply.write_frame", lambda frame: frame.data + b"# signed\n")
    with pytest.raises(MeshqcError, match="should be unchanged"):
        deliver(plan, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_source_that_changed_since_it_was_inspected_is_not_delivered(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path / "in", shot({4: bare}))
    plan = make_plan(inspection, lossless_choices(inspection))
    frame = tmp_path / "in" / "manta.0009.obj"
    frame.write_bytes(frame.read_bytes() + b"# later\n")
    with pytest.raises(MeshqcError, match=r"manta\.0009\.obj: changed after it was inspected"):
        deliver(plan, tmp_path / "out")
    assert not os.path.lexists(tmp_path / "out")
