"""Tests of the table of checks, and of the pages about a check or a fix."""

from __future__ import annotations

import pytest

from inspector.checks.base.check import Check
from inspector.checks.base.registry import all_checks
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import AnyFix
from inspector.fixes.base.registry import all_fixes
from inspector.report.reference import lookup, page_text, table_text, threshold_text, value_text
from inspector.report.text_style import TextStyle, cells
from inspector.threshold import Threshold

BOTH = pytest.mark.parametrize("subject", [*all_checks(), *all_fixes()], ids=lambda one: one.id)


def together(text: str) -> str:
    return " ".join(text.split())


def test_no_id_stands_for_a_check_and_a_fix() -> None:
    assert not {check.id for check in all_checks()} & {fix.id for fix in all_fixes()}


def test_the_table_has_a_row_for_each_check_and_keeps_to_80_columns() -> None:
    text = table_text(all_checks(), TextStyle(80))
    rows = [line for line in text.splitlines() if not line.startswith(" ")]
    assert [row.split()[0] for row in rows[1:-1]] == [check.id for check in all_checks()]
    for check, row in zip(all_checks(), rows[1:-1], strict=True):
        assert f"{check.severity.sign} {check.severity.word}" in row
    assert max(map(cells, text.splitlines())) <= 80
    for check in all_checks():
        assert all(fix in text for fix in check.fixes)


@BOTH
def test_a_page_has_every_word_and_keeps_to_80_columns(subject: Check | AnyFix) -> None:
    page = page_text(subject, TextStyle(80))
    assert page.startswith(f"{subject.id}: {subject.title}\n")
    assert max(map(cells, page.splitlines())) <= 80
    said = together(page)
    if isinstance(subject, Check):
        texts = [subject.rationale.what, subject.rationale.after_import, subject.rationale.what_to_do]
        fixes = {fix.id: fix for fix in all_fixes()}
        texts += [f"{name} ({fixes[name].kind.value}) {fixes[name].does}" for name in subject.fixes]
        texts += [f"{threshold_text(one)} {one.why}" for one in subject.thresholds]
        texts.append(subject.severity.word)
    else:
        texts = [subject.does, subject.cost, subject.kind.value, *subject.parameters, *subject.parameters.values()]
        texts += [check.id for check in all_checks() if subject.id in check.fixes]
    assert [text for text in texts if together(text) not in said] == []


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.id)
def test_every_threshold_has_a_reason(check: Check) -> None:
    assert all(threshold.why.endswith(".") for threshold in check.thresholds)


@pytest.mark.parametrize(
    ("typed", "near"),
    [("uv-mismach", "uv-mismatch"), ("UV_MISMATCH", "uv-mismatch"), ("scael", "scale"), ("frozn", "frozen")],
)
def test_a_typo_is_answered_with_the_nearest_id(typed: str, near: str) -> None:
    with pytest.raises(MeshqcError, match=rf"no check or fix has the id {typed}; nearest: {near}"):
        lookup(typed)


def test_nothing_near_leads_to_the_list() -> None:
    with pytest.raises(MeshqcError, match=r"no check or fix has the id \\x1b\[2J.*; `meshqc checks` lists"):
        lookup("\x1b[2J" + "x" * 40)


def test_values_of_thresholds_as_people_read_them() -> None:
    assert value_text({10.0: 1.5, 2.54: 1.15}) == "10: 1.5, 2.54: 1.15"
    assert value_text((0.7, 1.4)) == "0.7, 1.4"
    assert value_text(10_000) == "10,000"
    assert threshold_text(Threshold("jump-diagonals", 0.1, "Because.", "diagonals")) == "jump diagonals = 0.1 diagonals"
