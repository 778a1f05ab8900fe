"""The table of checks and the pages about a check or a fix: all from the registries."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import inspector.checks
from inspector import limits
from inspector.checks.base.check import Check
from inspector.checks.base.registry import all_checks, check_by_id
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import Fix
from inspector.fixes.base.registry import all_fixes
from inspector.report.reference import lookup, page_text, table_text
from inspector.report.text_style import Look, cells
from inspector.report.thresholds import thresholds

BOTH = pytest.mark.parametrize("subject", [*all_checks(), *all_fixes()], ids=lambda one: one.id)


def together(text: str) -> str:
    return " ".join(text.split())


def test_no_id_stands_for_a_check_and_a_fix() -> None:
    assert not {check.id for check in all_checks()} & {fix.id for fix in all_fixes()}


def test_the_table_has_a_row_for_each_check_and_keeps_to_80_columns() -> None:
    text = table_text(all_checks(), Look(80))
    rows = [line for line in text.splitlines() if not line.startswith(" ")]
    assert [row.split()[0] for row in rows[1:-1]] == [check.id for check in all_checks()]
    for check, row in zip(all_checks(), rows[1:-1], strict=True):
        assert f"{check.severity.sign} {check.severity.word}" in row
    assert max(map(cells, text.splitlines())) <= 80
    for check in all_checks():
        assert all(fix in text for fix in check.fixes)


@BOTH
def test_a_page_has_every_word_and_keeps_to_80_columns(subject: Check | Fix) -> None:
    page = page_text(subject, Look(80))
    assert page.startswith(f"{subject.id}: {subject.title}\n")
    assert max(map(cells, page.splitlines())) <= 80
    said = together(page)
    if isinstance(subject, Check):
        texts = [subject.rationale.what, subject.rationale.after_import, subject.rationale.what_to_do]
        fixes = {fix.id: fix for fix in all_fixes()}
        texts += [f"{name} ({fixes[name].kind.value}) {fixes[name].does}" for name in subject.fixes]
        texts += [f"{one.words} = {one.value_text} {one.reason}" for one in thresholds(subject.thresholds)]
        texts.append(subject.severity.word)
    else:
        texts = [subject.does, subject.cost, subject.kind.value, *subject.parameters, *subject.parameters.values()]
        texts += [check.id for check in all_checks() if subject.id in check.fixes]
    assert [text for text in texts if together(text) not in said] == []


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.id)
def test_a_check_names_every_threshold_that_its_file_goes_by(check: Check) -> None:
    source = Path(inspector.checks.__path__[0]) / f"{check.id.replace('-', '_')}.py"
    used = set(re.findall(r"limits\.([A-Z_]+)", source.read_text(encoding="utf-8"))) - {"PLACES_KEPT"}
    assert used <= set(check.thresholds)
    assert all(
        one.reason.endswith(".") and one.value is getattr(limits, one.name) for one in thresholds(check.thresholds)
    )


def test_every_threshold_has_a_reason() -> None:
    names = [name for name in vars(limits) if name.isupper()]
    assert len(names) > 80
    assert [one.name for one in thresholds(names) if not one.reason.endswith(".")] == []


@pytest.mark.parametrize(
    ("typed", "near"),
    [("uv-mismach", "uv-mismatch"), ("UV_MISMATCH", "uv-mismatch"), ("scael", "scale"), ("frozn", "frozen")],
)
def test_a_typo_is_answered_with_the_nearest_id(typed: str, near: str) -> None:
    with pytest.raises(MeshqcError, match=rf"no check and no fix {typed}; nearest: {near}"):
        lookup(typed)


def test_nothing_near_leads_to_the_list() -> None:
    with pytest.raises(MeshqcError, match=r"no check and no fix \\x1b\[2J.*; meshqc checks lists"):
        lookup("\x1b[2J" + "x" * 40)


def test_values_of_thresholds_as_people_read_them() -> None:
    values = {one.name: one.value_text for one in thresholds(["UNIT_FACTORS", "FROZEN_NEXT_STEP", "TICKING_VERTICES"])}
    assert values == {
        "UNIT_FACTORS": "10: 1.5, 100: 1.5, 1000: 1.5, 2.54: 1.15, 30.48: 1.15",
        "FROZEN_NEXT_STEP": "0.7, 1.4",
        "TICKING_VERTICES": "100",
    }
    assert check_by_id("scale-suspect").thresholds[0] == "UNIT_FACTORS"
