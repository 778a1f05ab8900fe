"""Tests of `meshqc rules` and of the commands that apply delivery rules."""

from __future__ import annotations

import shutil
from pathlib import Path

from inspector.report.formats import all_formats
from tests.helpers.command import assert_one_sentence, meshqc, strict_json


def test_the_next_export_is_held_against_the_last_good_one(demo: Path, tmp_path: Path) -> None:
    derived = meshqc("rules", "--from", demo / "manta")
    assert (derived.returncode, derived.stderr) == (0, "")
    (tmp_path / "meshqc.toml").write_text(derived.stdout)
    shutil.copytree(demo / "manta", tmp_path / "manta")
    same = meshqc("check", tmp_path / "manta")
    assert same.returncode == 0
    assert "verdict: clean" in same.stdout
    (tmp_path / "manta/manta.0024.obj").unlink()
    for path in (tmp_path / "manta").glob("*.obj"):
        path.write_bytes(path.read_bytes().replace(b"usemtl manta_skin\n", b""))
    document = strict_json(meshqc("check", tmp_path / "manta", "--json").stdout)
    found = {(one["check"], one["numbers"].get("rule")) for one in document["sequences"][0]["findings"]}
    assert ("delivery-rules", "mesh.materials") in found
    assert ("missing-frames", None) in found
    reasons = {one["reason"] for one in document["sequences"][0]["findings"] if one["check"] == "missing-frames"}
    assert reasons == {"as in manta.####.obj, the last good export"}


def test_no_rules_from_what_is_no_good_example(demo: Path, tmp_path: Path) -> None:
    for folder in (demo / "manta_broken", demo, tmp_path):
        run = meshqc("rules", "--from", folder)
        assert (run.returncode, run.stdout) == (2, "")
        assert_one_sentence(run.stderr)


def test_the_start_is_printed(tmp_path: Path) -> None:
    run = meshqc("rules", cwd=tmp_path)
    assert (run.returncode, run.stderr) == (0, "")
    assert "# corners = [3, 4]" in run.stdout
    assert list(tmp_path.iterdir()) == []


RULES = """
[mesh]
corners = { value = [3], reason = "the renderer takes triangles" }
[frames]
padding = 3
[checks]
repeated-frames = { severity = "off", reason = "known" }
"""


def test_the_report_says_which_rules_and_why(demo: Path, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text(RULES)
    run = meshqc("check", demo / "manta", "--rules", file)
    assert run.returncode == 1
    assert "rule: the renderer takes triangles" in run.stdout
    assert "switched off by the rules: known" in " ".join(run.stdout.split())
    assert f"rules: {file}" in " ".join(run.stdout.split())
    assert f"--rules {file}" in run.stdout
    document = strict_json(meshqc("check", demo / "manta", "--rules", file, "--json").stdout)
    assert document["rules"]["demands"] == ["frames.padding", "mesh.corners"]
    assert document["rules"]["checks"] == [
        {"check": "repeated-frames", "severity": "off", "thresholds": {}, "reason": "known"}
    ]
    assert meshqc("check", demo / "manta", "--rules", file, "--no-rules").returncode == 0


def test_a_correction_is_held_to_the_rules_as_well(demo: Path, tmp_path: Path) -> None:
    file, out = tmp_path / "house.toml", tmp_path / "out"
    file.write_text(RULES)
    run = meshqc("fix", demo / "manta", "--output", out, "--rules", file, "--all", "--with", "renumber:padding=3")
    assert run.returncode == 0, run.stdout + run.stderr
    assert sorted(path.name for path in out.glob("*.obj"))[:2] == ["manta.001.obj", "manta.002.obj"]
    for command in ("check", "verify"):
        assert meshqc(command, out, "--rules", file).returncode == 0
    partly = meshqc("fix", demo / "manta", "--output", tmp_path / "part", "--rules", file, "--only", "triangulate")
    assert partly.returncode == 1
    assert "frames.padding" in partly.stdout


def test_a_mistake_in_the_rules_stops_at_once(demo: Path, tmp_path: Path) -> None:
    (tmp_path / "meshqc.toml").write_text("[mesh]\ncorner = [3]\n")
    shutil.copytree(demo / "manta", tmp_path / "manta")
    run = meshqc("check", tmp_path / "manta")
    assert (run.returncode, run.stdout) == (2, "")
    assert_one_sentence(run.stderr)
    assert "line 2" in run.stderr


def test_rules_from_above_the_folder_are_named_everywhere(demo: Path, tmp_path: Path) -> None:
    """The rules switch a check off. The user may not know of a rules file above the folder, so the file is named."""
    file, source = tmp_path / "meshqc.toml", tmp_path / "shots" / "manta"
    file.write_text(RULES)
    shutil.copytree(demo / "manta", source)
    named = f"rules: {file} (2 rules; switched off: repeated-frames)"
    for form in all_formats().values():
        run = meshqc("check", source, "--format", form.id)
        if form.names_rules:
            assert f"{file}" in run.stdout, f"{form.id} doesn't name the rules: names_rules=False in its ReportFormat"
        else:
            assert run.stderr == f"{named}\n"
            assert "repeated-frames" not in run.stdout, "the format itself is as ever"
    assert named.partition(": ")[2] in meshqc("check", source, "--format", "junit").stdout
    assert named in meshqc("watch", source, "--until", "1").stderr
    run = meshqc("fix", source, "--output", tmp_path / "shots" / "out", "--only", "triangulate")
    assert named in run.stderr
    assert named in meshqc("verify", tmp_path / "shots" / "out").stderr
    assert "rules:" not in meshqc("check", source, "--format", "csv", "--no-rules").stderr
