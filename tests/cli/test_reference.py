"""Tests of `meshqc checks` and `meshqc explain`."""

from __future__ import annotations

from inspector.checks.base.registry import all_checks
from inspector.fixes.base.registry import all_fixes
from tests.helpers.command import assert_one_sentence, meshqc, strict_json


def test_all_checks_in_a_table_and_as_json() -> None:
    ids = [check.id for check in all_checks()]
    shown = meshqc("checks")
    assert (shown.returncode, shown.stderr) == (0, "")
    assert [line.split()[0] for line in shown.stdout.splitlines() if not line.startswith(" ")][1:-1] == ids
    document = strict_json(meshqc("checks", "--json").stdout)
    assert document["format"] == 2
    assert [check["id"] for check in document["checks"]] == ids
    assert {fix["id"] for fix in document["fixes"]} == {fix.id for fix in all_fixes()}


def test_a_page_about_a_check_and_about_a_fix() -> None:
    page = meshqc("explain", "scale-suspect")
    assert page.returncode == 0
    for words in ("What it is", "After the import", "What to do", "scale (one constant)", "stated size = 1.15"):
        assert words in page.stdout
    check = strict_json(meshqc("explain", "scale-suspect", "--json").stdout)["check"]
    assert check["fixes"] == ["scale"]
    factors = check["thresholds"][0]
    assert (factors["name"], factors["value"][0]) == ("unit-factors", [10.0, 1.5])
    fix = strict_json(meshqc("explain", "scale", "--json").stdout)["fix"]
    assert (fix["kind"], fix["checks"]) == ("one constant", ["delivery-rules", "scale-suspect"])
    page = meshqc("explain", "scale").stdout
    assert "Multiplies every position" in page
    assert "Parameters (--with scale:factor=VALUE)" in page


def test_without_unicode_pages_are_plain() -> None:
    assert meshqc("explain", "scale-suspect", PYTHONIOENCODING="ascii").stdout.isascii()


def test_a_typo_costs_one_sentence_and_code_2() -> None:
    for words in (("explain", "uv-mismach"), ("explain",), ("explain", "frozen", "scale"), ("checks", "frozen")):
        result = meshqc(*words)
        assert (result.returncode, result.stdout) == (2, "")
        assert_one_sentence(result.stderr)
    assert "nearest: uv-mismatch" in meshqc("explain", "uv-mismach").stderr
