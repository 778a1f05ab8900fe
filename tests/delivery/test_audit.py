"""Tests of `verify` on a delivery that was made earlier."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from inspector.checks.base.finding import Severity
from inspector.delivery.audit import Audit, audit
from inspector.delivery.choices import all_choices, lossless_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.receipt import sums_bytes, sums_of
from inspector.errors import MeshqcError
from inspector.report.audit import audit_text
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.settings import Settings
from tests.helpers.broken.uvs import bare
from tests.helpers.command import assert_one_sentence, digests, meshqc, strict_json
from tests.helpers.sequences import look_at_all, shot

FILES = shot({4: bare, 7: lambda mesh: mesh.edit(positions=mesh.positions * 50)})


@pytest.fixture(scope="module")
def delivery(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a delivery with findings that no lossless fix corrects."""
    folder = tmp_path_factory.mktemp("delivery")
    inspection = look_at_all(folder / "in", FILES, expected=(1, 14))
    deliver(make_plan(inspection, lossless_choices(inspection)), folder / "out")
    return folder / "out"


@pytest.fixture
def copy(delivery: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(delivery, tmp_path / "copy"))


def prove(folder: Path) -> Audit:
    before = digests(folder)
    found = audit(folder, Settings(), lambda _, __: None)
    assert digests(folder) == before
    return found


def differences(found: Audit) -> dict[str, list[str]]:
    kinds = {kind: list(getattr(found, kind)) for kind in ("changed", "missing", "extra", "disputed")}
    return {kind: paths for kind, paths in kinds.items() if paths}


def test_what_was_delivered_is_proven_wherever_it_lies(copy: Path) -> None:
    found = prove(copy)
    assert differences(found) == {}
    assert found.new == ()
    assert found.proven
    left = json.loads((copy / "meshqc-receipt.json").read_text())["left"]
    assert {(one["check"], tuple(one["frames"])) for one in left} >= {("missing-frames", (13, 14))}


def flip(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def as_link(path: Path) -> None:
    path.rename(path.parent.parent / "elsewhere")
    path.symlink_to("../elsewhere")


@pytest.mark.parametrize(
    ("name", "change", "told"),
    [
        ("manta.0002.obj", flip, "changed"),
        ("skin.png", flip, "changed"),
        ("HANDOFF.txt", flip, "changed"),
        ("manta.0002.obj", Path.unlink, "missing"),
        ("manta.mtl", Path.unlink, "missing"),
        ("SHA256SUMS", Path.unlink, "missing"),
        ("manta.0002.obj", as_link, "missing"),
        ("SHA256SUMS", lambda path: path.write_bytes(b"well"), "changed"),
        ("notes/new.txt", lambda path: (path.parent.mkdir(), path.touch()), "extra"),
        (".hidden", Path.touch, "extra"),
        ("link", lambda path: path.symlink_to("/"), "extra"),
    ],
)
def test_each_difference_is_told_by_name(copy: Path, name: str, change: Callable[[Path], object], told: str) -> None:
    change(copy / name)
    found = prove(copy)
    assert differences(found) == {told: [name]}
    assert not found.proven


def test_a_receipt_that_was_written_over_is_disputed_by_the_list(copy: Path) -> None:
    path = copy / "meshqc-receipt.json"
    receipt = json.loads(path.read_text())
    flip(copy / "manta.0002.obj")
    one = next(file for file in receipt["files"] if file["path"] == "manta.0002.obj")
    one["after"] = digests(copy)["manta.0002.obj"]
    path.write_text(json.dumps(receipt))
    assert differences(prove(copy)) == {"changed": [path.name], "disputed": ["manta.0002.obj"]}


def test_a_list_that_was_written_over_is_disputed_by_the_receipt(copy: Path) -> None:
    path = copy / "SHA256SUMS"
    digests = sums_of(path.read_bytes())
    path.write_bytes(sums_bytes((digests | {"manta.0003.obj": "0" * 64, "more.obj": "1" * 64}).items()))
    assert differences(prove(copy)) == {"disputed": ["manta.0003.obj", "more.obj"]}


def test_a_finding_that_is_new_is_told(copy: Path) -> None:
    path = copy / "meshqc-receipt.json"
    receipt = json.loads(path.read_text())
    receipt["left"] = [one for one in receipt["left"] if one["check"] != "missing-frames"]
    path.write_text(json.dumps(receipt))
    listed = sums_of((copy / "SHA256SUMS").read_bytes()) | {path.name: digests(copy)[path.name]}
    (copy / "SHA256SUMS").write_bytes(sums_bytes(listed.items()))
    found = prove(copy)
    assert differences(found) == {}
    assert [finding.check for _, finding in found.new] == ["missing-frames"]
    assert not found.proven
    words = "NOT VERIFIED: the files are what was delivered, but the checks report new findings"
    assert f"verdict: {words}" in " ".join(audit_text(found, TextStyle()).split())


def test_the_list_comes_back_whatever_the_names() -> None:
    listed = {
        name: f"{number:064x}" for number, name in enumerate(["plain", "two\nlines", "a\\n", "b\udcfcd", "\r  x"])
    }
    assert sums_of(sums_bytes(listed.items())) == listed
    assert sums_of(b"") == {}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        '{"format": 3}',
        '{"format": 2, "tool": {"version": "1"}, "files": [{"path": "../in/manta.0001.obj", "after": ""}]}',
        '{"format": 2, "tool": {"version": "1"}, "files": 3}',
        '{"format": 2, "tool": {"version": "1"}, "files": [], "left": [], "stated": '
        '{"frames": [1, 1e15], "size": null, "reference": null, "rate": null}}',
        "[" * 100_000,
    ],
)
def test_what_is_no_receipt_proves_nothing(copy: Path, text: str) -> None:
    (copy / "meshqc-receipt.json").write_text(text)
    with pytest.raises(MeshqcError, match=r"receipt|not a valid path inside the delivered folder"):
        audit(copy, Settings(), lambda _, __: None)


def test_every_demo_delivery_is_proven(demo: Path, tmp_path: Path) -> None:
    for folder in ("manta_broken", "kelp_broken", "manta"):
        inspection = look_at_all(demo / folder, {})
        deliver(make_plan(inspection, all_choices(inspection)), tmp_path / folder)
        assert prove(tmp_path / folder).proven


def test_a_delivery_without_frames_was_not_checked(demo: Path, tmp_path: Path) -> None:
    assert meshqc("fix", demo / "manta", "--as", "abc", "--output", tmp_path / "out").returncode == 0
    run = meshqc("verify", tmp_path / "out")
    assert run.returncode == 0
    assert "findings: no check ran, because the delivery contains no numbered frames" in " ".join(run.stdout.split())


def test_verify_as_a_user_runs_it(copy: Path) -> None:
    run = meshqc("verify", copy)
    assert (run.returncode, run.stderr) == (0, "")
    counts = [prove(copy).after.count(severity) for severity in (Severity.ERROR, Severity.WARNING)]
    assert counts == [1, 1]
    words = "verified: this is what was delivered, with 1 error and 1 warning remaining"
    assert f"verdict: {words}" in " ".join(run.stdout.split())
    flip(copy / "manta.0002.obj")
    run = meshqc("verify", copy)
    assert run.returncode == 1
    assert "changed:  manta.0002.obj" in run.stdout
    assert "NOT VERIFIED: this is not what was delivered" in run.stdout
    document = strict_json(meshqc("verify", copy, "--json").stdout)
    assert (document["verified"], document["changed"], document["missing"]) == (False, ["manta.0002.obj"], [])
    (copy / "meshqc-receipt.json").unlink()
    run = meshqc("verify", copy)
    assert run.returncode == 2
    assert_one_sentence(run.stderr)
    assert "meshqc-receipt.json can't be read" in run.stderr


def test_a_delivery_without_errors_is_verified_without_counts(demo: Path, tmp_path: Path) -> None:
    inspection = look_at_all(demo / "buoy", {})
    deliver(make_plan(inspection, all_choices(inspection)), tmp_path / "out")
    run = meshqc("verify", tmp_path / "out")
    assert run.stdout.endswith("verdict: verified: this is what was delivered\n")


def test_a_receipt_of_an_older_format_is_refused_with_the_way_on(copy: Path) -> None:
    (copy / "meshqc-receipt.json").write_text('{"format": 1}')
    with pytest.raises(MeshqcError, match=r"receipt has format 1, .*reads only format 2.*meshqc fix"):
        audit(copy, Settings(), lambda _, __: None)


def test_a_note_rewritten_with_its_sum_is_noticed(copy: Path) -> None:
    (copy / "HANDOFF.txt").write_text("All is well.\n")
    sums = sums_of((copy / "SHA256SUMS").read_bytes())
    sums["HANDOFF.txt"] = hashlib.sha256(b"All is well.\n").hexdigest()
    (copy / "SHA256SUMS").write_bytes(sums_bytes(sums.items()))
    assert prove(copy).changed == ("HANDOFF.txt",)


def test_a_second_line_for_a_file_is_noticed(copy: Path) -> None:
    sums = (copy / "SHA256SUMS").read_bytes()
    first = sums.splitlines(keepends=True)[0]
    for more in (first, b"0" * 64 + first[64:]):
        (copy / "SHA256SUMS").write_bytes(more + sums)
        assert prove(copy).changed == ("SHA256SUMS",)


def test_folders_that_were_not_delivered_are_noticed(copy: Path) -> None:
    (copy / "more" / "deep").mkdir(parents=True)
    assert prove(copy).extra == ("more/deep/",)


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads every folder")
def test_a_folder_that_cannot_be_read_is_noticed(copy: Path) -> None:
    (copy / "closed").mkdir(mode=0)
    assert "closed/" in prove(copy).extra


def rewrite_both(copy: Path) -> None:
    path = copy / "meshqc-receipt.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | {"source": "/elsewhere"}))
    sums = sums_of((copy / "SHA256SUMS").read_bytes()) | {path.name: digests(copy)[path.name]}
    (copy / "SHA256SUMS").write_bytes(sums_bytes(sums.items()))


def as_hard_link(copy: Path) -> None:
    os.link(copy / "manta.0002.obj", copy.parent / "another name")


@pytest.mark.parametrize(
    "change",
    [
        lambda copy: os.utime(copy / "manta.0002.obj", (0, 0)),
        lambda copy: (copy / "manta.0002.obj").chmod(0o755),
        as_hard_link,
        rewrite_both,
    ],
    ids=["times", "permissions", "hard link", "receipt and list"],
)
def test_what_the_manual_says_that_nothing_notices(copy: Path, change: Callable[[Path], object]) -> None:
    change(copy)
    assert prove(copy).proven


def test_the_source_is_not_part_of_a_delivery(copy: Path, delivery: Path) -> None:
    """The source may have been moved or changed, so `verify` doesn't read it."""
    source = delivery.parent / "in" / "manta.0001.obj"
    before = source.read_bytes()
    source.write_bytes(before + b"# later\n")
    assert prove(copy).proven
    source.write_bytes(before)
