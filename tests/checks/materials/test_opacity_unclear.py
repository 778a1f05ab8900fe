"""opacity-unclear: `d` is in MTL File Formats 4.2, 1995; `Tr` is not, and both its readings are in use."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look

FORMS = {
    "disagree": (("d 1.0", "Tr 1.0"), "warning"),
    "invisible": (("d 0.0",), "warning"),
    "only Tr": (("Tr 0.0",), "note"),
    "Tr 1": (("Tr 1.0",), "warning"),
}


@pytest.mark.parametrize("kind", FORMS)
def test_one_form(kind: str, tmp_path: Path) -> None:
    lines, severity = FORMS[kind]
    said, inspection = broken(tmp_path, "opacity-unclear", with_library(*lines))
    assert said == [("opacity-unclear", severity, ALL)]
    assert finding_of(inspection, "opacity-unclear").numbers["kind"] == kind


@pytest.mark.parametrize(
    "lines",
    [("d 1",), ("d 1.0", "Tr 0.0"), ("d 0.25", "Tr 0.75"), ("d -halo 0.5",), ("Tr 0.5",), ("d 0", "map_d skin.png")],
)
def test_clear_opacity(lines: tuple[str, ...], tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library(*lines))) == []


@pytest.mark.parametrize(("transparency", "found"), [(0.508, False), (0.512, True)])
def test_by_how_much_the_two_must_disagree(transparency: float, found: bool, tmp_path: Path) -> None:
    said = heard(look(tmp_path, with_library("d 0.5", f"Tr {transparency}")))
    assert said == [("opacity-unclear", "warning", ALL)] * found


@pytest.mark.parametrize(("transparency", "kind"), [(0.988, "only Tr"), (0.992, "Tr 1")])
def test_from_which_transparency_a_surface_may_be_invisible(transparency: float, kind: str, tmp_path: Path) -> None:
    finding = finding_of(look(tmp_path, with_library(f"Tr {transparency}")), "opacity-unclear")
    assert finding.numbers["kind"] == kind
