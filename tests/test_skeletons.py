"""What `python -m tests.helpers.new` writes is a module that imports, and a test that Python can read."""

from __future__ import annotations

import ast
import importlib.util
from pathlib import Path

import pytest

from tests.helpers.new import KINDS, ROOT, make

NAMES = {"check": "shape/sharp-corners", "fix": "text/blank-lines"}


@pytest.mark.parametrize("kind", KINDS)
def test_a_skeleton(kind: str, tmp_path: Path) -> None:
    name = NAMES.get(kind, "tide")
    for folder in ("inspector", "tests"):
        for place in (ROOT / folder).rglob("*/"):
            (tmp_path / place.relative_to(ROOT)).mkdir(parents=True, exist_ok=True)
    module, test = make(kind, name, tmp_path)
    ast.parse(test.read_text())
    spec = importlib.util.spec_from_file_location("skeleton", module)
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    known = {"check": "CHECK", "fix": "FIX", "format": "FORMATS", "report": "FORMAT", "screen": "TideScreen"}
    assert hasattr(made, known[kind])
    with pytest.raises(FileExistsError):
        make(kind, name, tmp_path)
