"""Tests of `python -m tests.helpers.new`."""

from __future__ import annotations

import ast
import importlib.util
import shutil
from pathlib import Path

import pytest

from inspector.fixes.base.registry import ORDER
from tests.helpers.new import KINDS, ROOT, make

NAMES = {"check": "shape/sharp-corners", "fix": "text/blank-lines"}
REGISTRY = Path("inspector/fixes/base/registry.py")


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    for folder in ("inspector", "tests"):
        for place in (ROOT / folder).rglob("*/"):
            copy = tmp_path / place.relative_to(ROOT)
            copy.mkdir(parents=True, exist_ok=True)
            if (place / "__init__.py").exists():
                (copy / "__init__.py").touch()
    shutil.copyfile(ROOT / REGISTRY, tmp_path / REGISTRY)
    return tmp_path


def files(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("kind", KINDS)
def test_a_skeleton(kind: str, clone: Path) -> None:
    name = NAMES.get(kind, "tide")
    module, test = make(kind, name, clone)
    ast.parse(test.read_text())
    spec = importlib.util.spec_from_file_location("skeleton", module)
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    known = {"check": "CHECK", "fix": "FIX", "format": "FORMATS", "report": "FORMAT", "screen": "TideScreen"}
    assert hasattr(made, known[kind])


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_written_over_or_half(kind: str, clone: Path) -> None:
    name = NAMES.get(kind, "tide")
    module, test = make(kind, name, clone)
    module.unlink()
    before = files(clone)
    with pytest.raises(ValueError, match=rf"{test.name} already exists"):
        make(kind, name, clone)
    assert files(clone) == before


@pytest.mark.parametrize(
    ("kind", "name", "said"),
    [
        ("check", "sharp-corners", "GROUP/ID"),
        ("check", "base/sharp-corners", "no group base; groups of inspector/checks: files, materials"),
        ("fix", "shape/sharp-corners", "no group shape; groups of inspector/fixes: files, materials"),
        ("check", "../sharp-corners", "no group"),
        ("check", "shape/Sharp-Corners", "is GROUP/ID"),
        ("fix", "text/2-lines", "is GROUP/ID"),
        ("format", "shape/xyz", "is ID"),
        ("report", "a--b", "is ID"),
        ("screen", "tide_table", "is ID"),
    ],
)
def test_other_names_are_refused(kind: str, name: str, said: str, clone: Path) -> None:
    before = files(clone)
    with pytest.raises(ValueError, match=said):
        make(kind, name, clone)
    assert files(clone) == before


def test_a_fix_has_its_place_in_the_order(clone: Path) -> None:
    make("fix", NAMES["fix"], clone)
    tree = ast.parse((clone / REGISTRY).read_text())
    (order,) = (node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "ORDER")
    assert ast.literal_eval(order.value) == (*ORDER, "blank-lines")
