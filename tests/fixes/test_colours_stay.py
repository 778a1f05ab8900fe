"""Tests that fixes keep the colours of vertices (`v x y z r g b`)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.finding import Severity
from inspector.delivery.choices import Choice
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form
from inspector.formats.files import off, ply
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed
from tests.helpers.gltf import nowhere
from tests.helpers.sequences import look_at_all, shot


def _coloured(text: bytes) -> bytes:
    count = 0

    def colour(match: re.Match[bytes]) -> bytes:
        nonlocal count
        count += 1
        return match[0] + b" %.6f 0 1" % (count / 255)

    return re.sub(rb"^v [^\r\n]*", colour, text, flags=re.MULTILINE)


FILES = {name: _coloured(data) if name.endswith(".obj") else data for name, data in shot().items()}
COLOURS = read_frame(FILES["manta.0005.obj"]).colours


@pytest.mark.parametrize(
    ("fix", "parameters"),
    [
        ("scale", {"factor": 2}),
        ("up-axis", {"to": "z"}),
        ("triangulate", {}),
        ("recompute-normals", {}),
        ("reverse", {}),
    ],
)
def test_they_stay_as_they_are(fix: str, parameters: Mapping[str, object], tmp_path: Path) -> None:
    done = fixed(tmp_path, FILES, fix, parameters)
    assert len(COLOURS) == 20
    assert read_frame(done.after["manta.0005.obj"]).colours.tolist() == COLOURS.tolist()


@pytest.mark.parametrize("mode", ["hold", "blend"])
def test_a_made_frame_has_its_neighbours_colours(mode: str, tmp_path: Path) -> None:
    files = {name: data for name, data in FILES.items() if name != "manta.0005.obj"}
    done = fixed(tmp_path, files, "fill-frames", {"mode": mode}, (5,))
    assert read_frame(done.after["manta.0005.obj"]).colours.tolist() == COLOURS.tolist()


@pytest.mark.parametrize("form", ["ply", "off", "stl"])
def test_they_are_carried_into_other_formats_or_named(form: str, tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path / "in", FILES)
    delivery = deliver(make_plan(inspection, [Choice("scale", {"factor": 2})]), tmp_path / "out", form=Form(form))
    data = (tmp_path / "out" / f"manta.0005.{form}").read_bytes()
    if form == "stl":
        assert "vertex colours" in (tmp_path / "out" / "HANDOFF.txt").read_text()
        return
    mesh = {"ply": ply, "off": off}[form].read(data, nowhere)
    assert np.allclose(mesh.colours[: len(COLOURS)], COLOURS, rtol=0, atol=1e-6)
    assert mesh.colours[len(COLOURS) :].shape[0] == len(mesh.positions) - len(COLOURS)
    assert delivery.errors == 0


def test_an_error_that_the_form_alone_causes_does_not_count(tmp_path: Path) -> None:
    """In OFF, either all vertices have UVs or none have."""
    files = {
        name: data.replace(b"f 1/1 2/2 7/5 6/4", b"f 1 2 7 6") if name.endswith(".obj") else data
        for name, data in shot().items()
    }
    more = tmp_path / "more"
    more.mkdir()
    inspection = look_at_all(tmp_path / "in", files, textures=(more,))
    delivery = deliver(make_plan(inspection, [Choice("scale", {"factor": 2})]), tmp_path / "out", form=Form("off"))
    assert delivery.after.count(Severity.ERROR) == 1
    assert "UVs that only some faces have" in (tmp_path / "out" / "HANDOFF.txt").read_text()
    assert delivery.errors == 0
