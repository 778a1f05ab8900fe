"""The list of checks: complete, each with its words and its tests, each fix that it names existing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import inspector.checks
from inspector.checks.base.check import Check
from inspector.checks.base.registry import all_checks, check_by_id
from inspector.fixes.base.registry import all_fixes
from tests.helpers.readme import README, table

CHECKS = pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.id)


def test_every_module_gives_one_check_and_no_id_is_used_twice() -> None:
    folder = Path(inspector.checks.__path__[0])
    modules = [path for path in folder.glob("*/*.py") if path.name != "__init__.py" and path.parent.name != "base"]
    ids = [check.id for check in all_checks()]
    assert len(modules) == len(ids) == len(set(ids))
    assert ids == sorted(ids)
    assert {path.stem for path in modules} == {identifier.replace("-", "_") for identifier in ids}


def test_readme_has_the_tables_of_the_registries() -> None:
    """After a new check or fix or another title: python -m tests.helpers.readme."""
    assert README.read_text(encoding="utf-8").endswith(table())


@CHECKS
def test_words_for_people(check: Check) -> None:
    texts = [check.rationale.what, check.rationale.after_import, check.rationale.what_to_do]
    assert all(text.strip() == text and text.endswith(".") for text in texts)
    assert len(set(texts)) == 3
    assert check.title.strip()
    assert check_by_id(check.id) is check


@CHECKS
def test_a_test_breaks_just_this(check: Check) -> None:
    """Each check is named by a test of this folder that starts from the healthy shot and breaks one thing."""
    texts = [path.read_text() for path in Path(__file__).parents[1].rglob("test_*.py") if path != Path(__file__)]
    named = re.compile(rf'broken\(\s*tmp_path,\s*"{check.id}"')
    assert any(named.search(text) for text in texts)


@CHECKS
def test_the_fixes_it_names_exist(check: Check) -> None:
    assert set(check.fixes) <= {fix.id for fix in all_fixes()}
