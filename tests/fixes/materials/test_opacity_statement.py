"""Tests of `opacity-statement`. `Tr` is not in MTL File Formats 4.2, 1995. Its two opposite interpretations are both in
use (common practice, no source)."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.decompose import materials_of
from inspector.formats.wavefront.library import read_library
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.materials import library, with_library


@pytest.mark.parametrize(("means", "d"), [("transparency", "0.75"), ("opacity", "0.25")])
def test_the_choice_is_a_constant(means: str, d: str, tmp_path: Path) -> None:
    result = fixed(tmp_path, with_library("Kd 1 1 1", "  Tr 0.25", "illum 2"), "opacity-statement", {"means": means})
    assert result.after["manta.mtl"] == library("Kd 1 1 1", f"  d {d}", "illum 2")
    assert result.step.parameters == {"means": means}


def test_without_the_choice_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="use `--with opacity-statement:means=transparency` if 1 means invisible"):
        plan_for(tmp_path, with_library("Tr 1"), "opacity-statement")


@pytest.mark.parametrize("lines", [("Tr 1", "d 1"), ("Tr 0.5",), ("d 0.3",)])
def test_what_is_clear_stays(lines: tuple[str, ...], tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no material gives its opacity only as `Tr`"):
        plan_for(tmp_path, with_library(*lines), "opacity-statement", {"means": "opacity"})


@pytest.mark.parametrize(
    ("lines", "opacity", "doubt"),
    [
        (b"Tr 1", 1.0, "Tr 1 without d (converted to an opacity of 1)"),
        (b"Tr 0", 1.0, "Tr 0 without d (converted to an opacity of 1)"),
        (b"Tr 0.25", 0.75, "Tr 0.25 without d (converted to an opacity of 0.75)"),
        (b"Tr 1\nd 0", 0.0, ""),
        (b"d -halo 0.5", 0.5, ""),
        (b"Tr 0.5", 0.5, ""),
    ],
)
def test_what_other_formats_get_is_named_where_it_is_a_guess(lines: bytes, opacity: float, doubt: str) -> None:
    ((material, lost),) = materials_of(read_library(b"newmtl skin\n" + lines + b"\n"), {})
    assert material.opacity == opacity
    assert [(one.what, one.seen) for one in lost] == ([(f"material skin: {doubt}", True)] if doubt else [])
