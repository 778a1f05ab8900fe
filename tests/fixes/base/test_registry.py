"""Tests of the list of fixes."""

from __future__ import annotations

from pathlib import Path

from inspector.checks.base.registry import all_checks
from inspector.fixes.base.fix import DataChange, FixKind
from inspector.fixes.base.registry import ORDER, all_fixes, fix_by_id

PACKAGE = Path(__file__).parents[3] / "inspector/fixes"
TESTS = Path(__file__).parents[1]


def modules() -> list[Path]:
    files = (path.relative_to(PACKAGE) for path in PACKAGE.glob("*/*.py") if path.name != "__init__.py")
    return sorted(path for path in files if path.parts[0] != "base")


def test_every_fix_has_a_test_file_at_the_mirrored_path() -> None:
    missing = [path for path in modules() if not (TESTS / path.parent / f"test_{path.name}").is_file()]
    names = ", ".join(f"tests/fixes/{path.parent}/test_{path.name}" for path in missing)
    assert not missing, f"write {names}: what the fix changes, what it leaves byte for byte, and each of its refusals"


def test_a_module_is_named_after_its_fix() -> None:
    assert sorted(path.stem.replace("_", "-") for path in modules()) == sorted(fix.id for fix in all_fixes())


def test_every_fix_has_one_place_in_the_order() -> None:
    assert len(set(ORDER)) == len(ORDER)
    assert tuple(fix.id for fix in all_fixes()) == ORDER


def test_every_fix_that_a_check_names_exists() -> None:
    known = {fix.id for fix in all_fixes()}
    assert {name for check in all_checks() for name in check.fixes} <= known


def test_a_fix_that_changes_data_says_how_and_at_what_cost_and_no_other_does() -> None:
    changing = {fix.id for fix in all_fixes() if fix.kind is FixKind.CHANGES_DATA}
    assert {fix.id for fix in all_fixes() if fix.cost} == changing
    assert {fix.id for fix in all_fixes() if fix.changes} == changing


def test_the_kind_in_words_lists_the_changes_in_one_order() -> None:
    fix = fix_by_id("uv-planar")
    assert fix.changes == {DataChange.ADDS, DataChange.DROPS}
    assert fix.kind_text == "changes data: adds, drops"


def test_a_fix_edits_something() -> None:
    assert [fix.id for fix in all_fixes() if not (fix.edit_frame or fix.edit_output or fix.edit_assets)] == []


def test_every_fix_claims_what_it_decides() -> None:
    assert [fix.id for fix in all_fixes() if not fix.claims] == []
