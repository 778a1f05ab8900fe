"""Tests of the list of checks."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

import inspector.checks
from inspector.checks.base.check import Check
from inspector.checks.base.registry import all_checks, check_by_id, checks_of, group_of
from inspector.fixes.base.registry import all_fixes

CHECKS = pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.id)


def test_each_check_is_found_once_and_has_its_file_or_row() -> None:
    ids = [check.id for check in all_checks()]
    assert ids == sorted(set(ids))
    groups = [path for path in Path(inspector.checks.__path__[0]).iterdir() if path.is_dir() and path.name != "base"]
    modules = [
        importlib.import_module(f"inspector.checks.{path.parent.name}.{path.stem}")
        for group in groups
        for path in group.glob("[!_]*.py")
    ]
    found = [check.id for module in modules for check in checks_of(module)]
    assert sorted(found) == ids
    files = {module.__name__.rpartition(".")[2]: module.CHECK.id for module in modules if not hasattr(module, "CHECKS")}
    assert all(name == identifier.replace("-", "_") for name, identifier in files.items())


@pytest.mark.parametrize(
    ("check", "group"),
    [("spike", "motion"), ("uv-index-range", "uvs"), ("concave-faces", "shape"), ("encoding", "text")],
)
def test_the_group_is_the_folder_of_the_module(check: str, group: str) -> None:
    """The functions of some checks are created by code in base/, outside the module of the check."""
    assert group_of(check_by_id(check)) == group


@CHECKS
def test_words_for_people(check: Check) -> None:
    texts = [check.rationale.what, check.rationale.after_import, check.rationale.what_to_do]
    assert all(text.strip() == text and text.endswith(".") for text in texts)
    assert len(set(texts)) == 3
    assert check.title.strip()
    assert check_by_id(check.id) is check


@CHECKS
def test_a_test_breaks_just_this(check: Check) -> None:
    texts = [path.read_text() for path in Path(__file__).parents[1].rglob("test_*.py") if path != Path(__file__)]
    named = re.compile(rf'broken\(\s*tmp_path,\s*"{check.id}"')
    wanted = f'write broken(tmp_path, "{check.id}", files) in its test: no other check may report the files'
    assert any(named.search(text) for text in texts), wanted


@CHECKS
def test_the_fixes_it_names_exist(check: Check) -> None:
    assert set(check.fixes) <= {fix.id for fix in all_fixes()}
