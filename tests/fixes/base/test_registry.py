"""A fix without a test of its own fails the suite."""

from __future__ import annotations

from pathlib import Path

from inspector.checks.base.registry import all_checks
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import all_fixes


def test_every_fix_has_a_test_file() -> None:
    groups = Path(__file__).parents[1]
    assert [fix.id for fix in all_fixes() if not list(groups.glob(f"*/test_{fix.id.replace('-', '_')}.py"))] == []


def test_every_fix_has_a_test_of_its_refusals() -> None:
    groups = Path(__file__).parents[1]
    texts = {fix.id: next(groups.glob(f"*/test_{fix.id.replace('-', '_')}.py")).read_text() for fix in all_fixes()}
    assert [fix for fix, text in texts.items() if "pytest.raises(Refusal" not in text] == []


def test_every_fix_that_a_check_names_exists() -> None:
    known = {fix.id for fix in all_fixes()}
    assert {name for check in all_checks() for name in check.fixes} <= known


def test_what_a_fix_costs_is_said_where_it_invents_and_only_there() -> None:
    assert [fix.id for fix in all_fixes() if bool(fix.cost) != (fix.kind is FixKind.INVENTING)] == []


def test_a_fix_changes_something() -> None:
    assert [fix.id for fix in all_fixes() if not (fix.frame or fix.slots or fix.kit)] == []
