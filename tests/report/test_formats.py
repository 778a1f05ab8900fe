"""Tests of all formats of `meshqc check` on the same folder. Sources: the published schemas."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
import xmlschema
from jsonschema import Draft202012Validator

from inspector.checks.base.registry import all_checks
from inspector.cli.manual_pages import page
from inspector.inspection.inspection import inspect_folder
from inspector.report.formats import Request, all_formats
from tests.helpers.command import harmful, meshqc, strict_json
from tests.helpers.hostile.evil_shots import HOSTILE, hostile
from tests.helpers.pages import classed, exact, frame_rows, parsed, words

__all__ = ["hostile"]

KELP = ("--frames", "1-15", "--size", "1.8")
SEQUENCES = pytest.mark.parametrize(
    "name", ["manta", "manta_broken", "kelp_broken", pytest.param(".", marks=pytest.mark.slow)]
)


@cache
@cache  # the folders of these tests don't change
def told(folder: Path, form: str, *words: str) -> str:
    run = meshqc("check", folder, "--format", form, *words)
    assert run.stderr == ""
    return run.stdout


def rows(text: str) -> list[dict[str, str]]:
    """Return the rows of a CSV text (RFC 4180), read by the standard library."""
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_every_format_is_offered_and_renders(demo: Path) -> None:
    offered = meshqc("check", "--help").stdout
    result = inspect_folder(demo / "kelp_broken")
    for form in all_formats().values():
        assert form.id in offered
        assert form.help.split()[0] in offered
        assert form.render(result, Request(demo)).strip()


@SEQUENCES
def test_all_formats_say_the_same_numbers(demo: Path, name: str) -> None:
    folder = demo / name
    document = strict_json(told(folder, "json", *KELP))
    for form, assert_same in READ_BACK.items():
        assert_same(document, told(folder, form, "--fail-on", "note", *KELP))


def verdict_of(document: Mapping[str, Any]) -> dict[str, int]:
    return {key.removesuffix("s"): count for key, count in document["verdict"].items()}


def assert_same_text(document: Mapping[str, Any], text: str) -> None:
    assert verdict_of(document) == verdict_in_text(text)


def assert_same_lines(document: Mapping[str, Any], text: str) -> None:
    verdict = verdict_of(document)
    assert verdict == {severity: severities(text)[severity] for severity in verdict}


def assert_same_suites(document: Mapping[str, Any], text: str) -> None:
    verdict, suites = verdict_of(document), ElementTree.fromstring(text)
    failed = Counter(failure.attrib["type"] for failure in suites.iter("failure"))
    assert verdict == {severity: failed[severity] for severity in verdict}
    stated = Counter[str]()
    for value in suites.iter("property"):
        stated[value.attrib["name"].removesuffix("s")] += int(value.attrib["value"])
    assert stated == Counter(verdict) + Counter(frame=sum(one["count"] for one in document["sequences"]))


def verdict_in_text(text: str) -> dict[str, int]:
    line = next(line for line in text.splitlines() if line.startswith("verdict: "))
    return {word: int(number) for number, word in re.findall(r"(\d+) (error|warning|note)", line)}


def severities(text: str) -> Counter[str]:
    form = re.compile(r"(.+):[1-9]\d*: (error|warning|note): .+ \[[a-z-]+\]")
    matches = [form.fullmatch(line) for line in text.splitlines()]
    return Counter(match[2] for match in matches if match) + Counter(other=matches.count(None))


def assert_same_frames(document: Mapping[str, Any], text: str) -> None:
    frames = [(sequence, frame) for sequence in document["sequences"] for frame in sequence["frames"]]
    for (sequence, frame), row in zip(frames, rows(text), strict=True):
        counts = ("frame", "vertices", "faces", "uvs", "normals", "objects")
        assert [number(row[key]) for key in counts] == [frame[key] for key in counts]
        box, drift = frame["box"], frame["drift"]
        assert [number(row[f"{end}_{axis}"]) for end in ("min", "max") for axis in "xyz"] == (
            [None] * 6 if box is None else box["min"] + box["max"]
        )
        assert [number(row[f"drift_{axis}"]) for axis in "xyz"] == ([None] * 3 if drift is None else drift["centre"])
        assert number(row["size_ratio"]) == (drift and drift["size_ratio"])
        assert {key: number(row[f"speed_{key}"]) for key in frame["speed"]} == frame["speed"]
        assert (number(row["bytes"]), row["modified"]) == (frame["bytes"], frame["modified"])
        named = {one["check"] for one in sequence["findings"] if frame["frame"] in one["frames"]}
        assert set(row["findings"].split("; ")) - {""} == named


def assert_same_page(document: Mapping[str, Any], text: str) -> None:
    """Check that the HTML page has the same numbers and findings as the JSON document. The page lists the worst
    sequence first, so frames are compared by their file names."""
    shown = parsed(text)
    (verdict,) = classed(shown, "verdict")
    assert document["verdict"] == {f"{one.attrib['class']}s": int(one.attrib["value"]) for one in verdict.iter("data")}
    assert sum(len(one["findings"]) for one in document["sequences"]) == len(list(classed(shown, "finding")))
    wanted = {frame["file"]: frame for sequence in document["sequences"] for frame in sequence["frames"]}
    told_of = {words(cells[1]): cells for cells in frame_rows(shown) if words(cells[1]) != "no file"}
    assert told_of.keys() == wanted.keys()
    for file, frame in wanted.items():
        drift, size = told_of[file][2:4]
        assert [exact(cell) for cell in told_of[file][8:12]] == [
            frame[key] for key in ("vertices", "faces", "uvs", "normals")
        ]
        moved = frame["drift"] or {"centre_diagonals": None, "size_ratio": None}
        assert exact(drift) == pytest.approx(moved["centre_diagonals"])
        assert exact(size) == moved["size_ratio"]
    named = Counter(
        one["check"] for sequence in document["sequences"] for one in sequence["findings"] for _ in one["frames"]
    )
    titles = {check.id: check.title for check in all_checks()}
    linked = Counter(words(link)[2:] for cells in frame_rows(shown) for link in cells[-1])
    assert sum(linked.values()) >= sum(named.values())
    assert linked.keys() == {titles[check] for check in named}


def number(cell: str) -> float | None:
    return float(cell) if cell else None


READ_BACK: dict[str, Callable[[Mapping[str, Any], str], None]] = {
    "text": assert_same_text,
    "lines": assert_same_lines,
    "junit": assert_same_suites,
    "csv": assert_same_frames,
    "html": assert_same_page,
}


def test_every_format_is_read_back_and_in_the_manual() -> None:
    assert {"json", *READ_BACK} == all_formats().keys(), "READ_BACK, above, compares the numbers of each format"
    manual = page("check")
    for form in all_formats():
        assert f"\n| `{form}` | " in manual, (
            f"add a row for {form} to the table of formats in inspector/manual/check.md"
        )


SCHEMA = json.loads((files("inspector.report") / "check.schema.json").read_text())


def closed(schema: Any) -> Any:
    """Return a copy of the JSON schema, changed to forbid every field that the schema does not describe."""
    if isinstance(schema, list):
        return [closed(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    inner = {key: closed(value) for key, value in schema.items()}
    return {"additionalProperties": False} | inner if isinstance(schema.get("properties"), dict) else inner


def test_the_json_schema_is_one() -> None:
    """Source: the meta-schema of JSON Schema, draft 2020-12."""
    Draft202012Validator.check_schema(SCHEMA)


@SEQUENCES
def test_json_against_its_schema(demo: Path, name: str) -> None:
    Draft202012Validator(closed(SCHEMA)).validate(strict_json(told(demo / name, "json")))


def test_the_schema_refuses_what_is_wrong(demo: Path) -> None:
    document = strict_json(told(demo / "manta", "json"))
    document["sequences"][0]["frames"][0]["vertices"] = "600"
    assert not Draft202012Validator(SCHEMA).is_valid(document)


def test_json_is_short_for_format_json(demo: Path) -> None:
    assert meshqc("check", demo / "manta", "--json").stdout == told(demo / "manta", "json")


JUNIT = xmlschema.XMLSchema10(str(Path(__file__).parent / "published/junit-10.xsd"))
"""A schema for JUnit XML, from the source of pytest 9.0.2 (testing/example_scripts/junit-10.xsd, MIT licence)."""


@SEQUENCES
@pytest.mark.parametrize("level", ["error", "never"])
def test_junit_against_its_schema(demo: Path, name: str, level: str) -> None:
    text = told(demo / name, "junit", "--fail-on", level)
    JUNIT.validate(text)
    tests = list(ElementTree.fromstring(text).iter("testcase"))
    assert len({(test.attrib["classname"], test.attrib["name"]) for test in tests}) == len(tests)


def test_junit_fails_from_the_level_that_the_exit_code_fails_from(demo: Path) -> None:
    for level, failing in (("error", {"error"}), ("warning", {"error", "warning"}), ("never", set())):
        suites = ElementTree.fromstring(told(demo / "manta_broken", "junit", "--fail-on", level))
        assert {failure.attrib["type"] for failure in suites.iter("failure")} == failing
        assert int(suites.attrib["failures"]) == len(list(suites.iter("failure")))


def test_junit_names_a_check_that_broke(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from dataclasses import replace

    from inspector.checks.base.registry import check_by_id
    from inspector.inspection import inspection

    def breaks(_: object) -> Any:
        raise ZeroDivisionError("\x1b[2J")

    monkeypatch.setattr(inspection, "all_checks", lambda: [replace(check_by_id("frozen"), run=breaks)])
    text = all_formats()["junit"].render(inspection.inspect_folder(demo / "manta"), Request(demo, fail_on=None))
    JUNIT.validate(text)
    (error,) = ElementTree.fromstring(text).iter("error")
    assert "ZeroDivisionError" in (error.text or "")
    assert harmful(error.text or "") == []


OWN_FORM = {"json", "html"}
"""Formats that write names in their own form: JSON uses its own escapes, and HTML uses character references."""


@pytest.mark.parametrize("form", sorted(all_formats().keys() - OWN_FORM))
def test_hostile_names_are_safe_in_every_format(hostile: Path, form: str) -> None:
    text = told(hostile, form)
    assert harmful(text.replace("\r\n", "\n")) == []
    assert "\\x1b" in text
    if form == "junit":
        JUNIT.validate(text)
    if form == "lines":
        assert severities(text)["other"] == 0


def test_json_of_hostile_names_fits_the_schema(hostile: Path) -> None:
    document = strict_json(told(hostile, "json"))
    Draft202012Validator(closed(SCHEMA)).validate(document)
    assert document["sequences"][0]["frames"][0]["file"].encode("utf-8", "surrogateescape") == HOSTILE + b"0001.obj"


FORMULA = re.compile(r"[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")


def test_no_cell_of_text_is_a_formula(tmp_path: Path, demo: Path) -> None:
    """Source: OWASP, "CSV Injection", from memory."""
    for stem in ("=1+1", "+1", "-1", "@sum", "\tx", "\rx", "\uff1d1", "\uff0b1", "\uff0d1", "\uff20sum"):
        for at in (1, 2):
            text = (demo / f"manta/manta.000{at}.obj").read_bytes()
            text = text.replace(b"usemtl manta_skin", b"usemtl =cmd()").replace(b"mtllib manta", b"mtllib -manta")
            (tmp_path / f"{stem}.{at:04}.obj").write_bytes(text)
    table = rows(told(tmp_path, "csv"))
    assert len(table) == 20
    texts = ("folder", "sequence", "file", "materials", "libraries", "maps", "findings")
    assert [row[key] for row in table for key in texts if FORMULA.match(row[key])] == []
    assert {row["materials"] for row in table} == {"'=cmd()"}
    assert any(float(row["min_x"]) < 0 for row in table)


def test_lines_lead_to_the_file_from_where_the_user_stands(demo: Path) -> None:
    lines = meshqc("check", "manta_broken", "--format", "lines", cwd=demo).stdout.splitlines()
    assert all((demo / line.split(":")[0]).is_file() for line in lines)
    assert "manta_broken/manta_broken.0008.obj:1882: error: every UV index is off by +4, frame 8 [uv-mismatch]" in lines
