"""All fixes: every module of inspector/fixes that defines FIX. An error in one stops the program."""

from __future__ import annotations

import importlib
import pkgutil
from difflib import get_close_matches
from functools import cache

import inspector.fixes
from inspector.errors import Refusal
from inspector.fixes.base.fix import Fix
from inspector.names import safe


@cache
def all_fixes() -> tuple[Fix, ...]:
    """Fixes in their canonical order. Raises ImportError, or ValueError for an id used twice."""
    names = [module.name for module in pkgutil.iter_modules(inspector.fixes.__path__) if not module.ispkg]
    fixes: list[Fix] = [importlib.import_module(f"inspector.fixes.{name}").FIX for name in names]
    if len({fix.id for fix in fixes}) < len(fixes):
        raise ValueError("two fixes have the same id")
    return tuple(sorted(fixes, key=lambda fix: (fix.stage, fix.id)))


def fix_by_id(identifier: str) -> Fix:
    """The fix with that id. Raises Refusal that names the nearest ids there are, or all."""
    fixes = {fix.id: fix for fix in all_fixes()}
    if identifier not in fixes:
        near = get_close_matches(identifier, fixes)
        hint = f"nearest: {', '.join(near)}" if near else f"there are {', '.join(fixes)}"
        raise Refusal(f"there is no fix {safe(identifier)}; {hint}")
    return fixes[identifier]
