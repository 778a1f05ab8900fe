"""All checks: every module in the groups of inspector/checks defines one CHECK. An error in one stops the program."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

import inspector.checks
from inspector.checks.base.check import Check


@cache
def all_checks() -> tuple[Check, ...]:
    """Checks in the order of their ids. Raises ImportError, or ValueError for an id used twice."""
    checks: dict[str, Check] = {}
    for module in pkgutil.walk_packages(inspector.checks.__path__, "inspector.checks."):
        if module.ispkg or module.name.startswith("inspector.checks.base."):
            continue
        check: Check = importlib.import_module(module.name).CHECK
        if check.id in checks:
            raise ValueError(f"two checks have the id {check.id}")
        checks[check.id] = check
    return tuple(checks[key] for key in sorted(checks))


def check_by_id(identifier: str) -> Check:
    """The check with that id. Raises KeyError."""
    return {check.id: check for check in all_checks()}[identifier]
