"""Tests of `opacity-unclear`. MTL File Formats 4.2 (1995) defines `d`, but not `Tr`. Some programs read `Tr` as
opacity, others as transparency."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form
from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.formats.animation import Take
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.animations import open_animation
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


def delivered_as(tmp_path: Path, kind: str, *lines: str) -> Path:
    look(tmp_path / "in", with_library(*lines))
    deliver(make_plan(inspect_folder(tmp_path / "in"), ()), tmp_path / kind, form=Form(kind))
    return tmp_path / kind


@pytest.mark.parametrize(
    ("lines", "kinds"), [(("Tr 1",), ["Tr 1"]), (("Tr 0.25",), ["only Tr"]), (("Tr 1", "d 1"), []), (("d 0",), [])]
)
def test_our_glb_keeps_the_doubt(lines: tuple[str, ...], kinds: list[str], tmp_path: Path) -> None:
    (one,) = inspect_folder(delivered_as(tmp_path, "glb", *lines)).inspections
    found = [finding for finding in one.findings if finding.check == "opacity-unclear"]
    assert [finding.numbers["kind"] for finding in found] == kinds
    for finding in found:
        assert list(finding.frames) == ALL
        assert "comes from a library in which it" in finding.message
        assert [where.line for where in finding.where] == [None]


def edited(data: bytes, old: str, new: str) -> bytes:
    """Replace the text `old` in the JSON chunk of a GLB file with `new`.

    A GLB file has a header of 12 bytes, followed by chunks that each start with their length and type (glTF 2.0, 4.4).
    """
    (length,) = struct.unpack_from("<I", data, 12)
    document = data[20 : 20 + length].decode()
    assert old in document
    text = document.replace(old, new).rstrip().encode()
    json.loads(text)
    text += b" " * (-len(text) % 4)
    rest = data[20 + length :]
    return data[:8] + struct.pack("<II", 20 + len(text) + len(rest), len(text)) + data[16:20] + text + rest


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"extras":{"Tr":1.0}', '"extras":{}'),
        ('"extras":{"Tr":1.0}', '"extras":"Tr"'),
        ('"extras":{"Tr":1.0}', '"extras":{"Tr":"1"}'),
        ('"extras":{"Tr":1.0}', '"extras":{"Tr":0.5}'),
        ('"extras":{"Tr":1.0}', '"alphaMode":"MASK","alphaCutoff":2,"extras":{"Tr":1.0}'),
    ],
)
def test_no_doubt_is_made_up(old: str, new: str, tmp_path: Path) -> None:
    """After the edit, the file looks as if it came from another writer or had been changed after the delivery."""
    folder = delivered_as(tmp_path, "glb", "Tr 1")
    for path in folder.glob("*.glb"):
        path.write_bytes(edited(path.read_bytes(), old, new))
    (one,) = inspect_folder(folder).inspections
    assert [finding.check for finding in one.findings if finding.check == "opacity-unclear"] == []


def test_openusd_keeps_the_doubt(tmp_path: Path) -> None:
    path = delivered_as(tmp_path, "usd", "Tr 1") / "manta.usdc"
    animation = open_animation(path)
    (one,) = unpack(path, animation, UnpackRequest(animation.frames, Take()), tmp_path / "out").after.inspections
    assert finding_of(one, "opacity-unclear").numbers["kind"] == "Tr 1"
    library = next((tmp_path / "out").glob("*.mtl")).read_bytes()
    assert b"\nTr 1\n" in library
    assert b"\nd " not in library


def test_the_doubt_of_a_glb_ends_where_a_choice_is_made(tmp_path: Path) -> None:
    inspection = inspect_folder(delivered_as(tmp_path, "glb", "Tr 1"))
    delivery = deliver(make_plan(inspection, [Choice("opacity-statement", {"means": "opacity"})]), tmp_path / "out")
    assert b"\nd 1\n" in next((tmp_path / "out").glob("*.mtl")).read_bytes()
    assert all(finding.check != "opacity-unclear" for finding in delivery.after.inspections[0].findings)
