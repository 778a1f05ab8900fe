"""Find all fixes: each module in the subpackages of inspector/fixes, except base, defines a FIX."""

from __future__ import annotations

import importlib
import pkgutil
from difflib import get_close_matches
from functools import cache

import inspector.fixes
from inspector.errors import Refusal
from inspector.fixes.base.fix import AnyFix
from inspector.names import safe

ORDER = (
    "drop-repeated-frames",
    "decimal-commas",
    "clean-text",
    "positive-indices",
    "restore-order",
    "restore-faces",
    "flip-winding",
    "uv-shift-back",
    "uv-restore",
    "uv-donor",
    "uv-nearest",
    "uv-grid",
    "uv-planar",
    "uv-into-square",
    "uv-mirror",
    "uv-turn",
    "align-outlier",
    "offset",
    "align",
    "scale",
    "up-axis",
    "handedness",
    "keep-objects",
    "drop-degenerate-faces",
    "drop-duplicate-faces",
    "drop-unused-vertices",
    "triangulate",
    "fill-frames",
    "trim-loop",
    "every-nth",
    "flip-normals",
    "retime",
    "unit-normals",
    "recompute-normals",
    "drop-normals",
    "reverse",
    "renumber",
    "name-colour-map",
    "share-library",
    "clean-library",
    "unify-material-names",
    "drop-unused-materials",
    "neutral-material",
    "norm-statement",
    "opacity-statement",
    "colour-map-statement",
    "replace-missing-maps",
    "collect-textures",
    "portable-names",
    "reduce-decimals",
    "drop-executable",
)
"""The order in which fixes are planned and applied, regardless of the order of the user's choices."""


@cache
def _modules() -> dict[str, str]:
    """Return the module names of all fixes, by id.

    An id is the last part of the module name, with hyphens instead of underscores.

    Raises:
        ValueError: Two fixes have the same id.
    """
    names = [
        module.name
        for module in pkgutil.walk_packages(inspector.fixes.__path__, "inspector.fixes.")
        if not module.ispkg and not module.name.startswith("inspector.fixes.base.")
    ]
    modules = {name.rpartition(".")[2].replace("_", "-"): name for name in names}
    if len(modules) < len(names):
        raise ValueError(f"two fixes have the same id: {names}")
    return modules


def _fix_in(identifier: str) -> AnyFix:
    fix: AnyFix = importlib.import_module(_modules()[identifier]).FIX
    return fix


@cache
def all_fixes() -> tuple[AnyFix, ...]:
    """Return all fixes in the order of their application.

    Raises:
        ImportError: A module of a fix can't be imported.
        ValueError: Two fixes have the same id, a fix is missing from ORDER, or a fix in ORDER has no module.
    """
    fixes = {fix.id: fix for fix in map(_fix_in, _modules())}
    if sorted(fixes) != sorted(ORDER):
        raise ValueError(f"ORDER and the modules of inspector/fixes differ: {sorted({*fixes} ^ {*ORDER})}")
    return tuple(fixes[identifier] for identifier in ORDER)


def fix_by_id(identifier: str) -> AnyFix:
    """Return the fix with this id. Only its module is imported.

    Raises:
        Refusal: There is no such fix. The message names the most similar ids, or all ids if none is similar.
        ImportError: The module of the fix can't be imported.
    """
    if identifier not in ORDER:
        near = get_close_matches(identifier, ORDER)
        hint = f"nearest: {', '.join(near)}" if near else f"the fixes are {', '.join(ORDER)}"
        raise Refusal(f"there is no fix {safe(identifier)}; {hint}")
    return _fix_in(identifier)
