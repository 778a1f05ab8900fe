"""Find all checks: each module in the groups of inspector/checks defines CHECK or CHECKS."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache
from types import ModuleType

import inspector.checks
from inspector.checks.base.check import Check


def all_checks() -> tuple[Check, ...]:
    """Return all checks, sorted by id.

    Raises:
        ImportError: The module of a check can't be imported.
        AttributeError: A module in a group defines no check.
        ValueError: Two checks have the same id.
    """
    return tuple(check for check, _ in _with_groups().values())


@cache
def _with_groups() -> Mapping[str, tuple[Check, str]]:
    """Return each check and its group, by the id of the check. The ids are sorted."""
    found: dict[str, tuple[Check, str]] = {}
    for module in pkgutil.walk_packages(inspector.checks.__path__, "inspector.checks."):
        if module.ispkg or module.name.startswith("inspector.checks.base."):
            continue
        for check in checks_of(importlib.import_module(module.name)):
            if check.id in found:
                raise ValueError(f"two checks have the id {check.id}")
            found[check.id] = check, module.name.split(".")[2]
    return dict(sorted(found.items()))


def checks_of(module: ModuleType) -> tuple[Check, ...]:
    """Return the checks that a module of a group defines.

    Raises:
        AttributeError: The module defines no check.
    """
    rows: tuple[Check, ...] | None = getattr(module, "CHECKS", None)
    return (module.CHECK,) if rows is None else rows


def group_of(check: Check) -> str:
    """Return the group of a check, such as "motion": the name of the folder that contains its module.

    Raises:
        KeyError: The check is not in a group.
    """
    return _with_groups()[check.id][1]


def check_by_id(identifier: str) -> Check:
    """Return the check with this id.

    Raises:
        KeyError: There is no such check.
    """
    return _with_groups()[identifier][0]
