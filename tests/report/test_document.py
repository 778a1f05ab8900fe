"""Tests of the JSON document."""

from __future__ import annotations

import math
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.report.document import finite, folder_document, json_text
from inspector.report.formats import Request, all_formats
from inspector.report.html.gather import gather
from inspector.report.html.page import html_text
from inspector.report.text import rest_notes
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.settings import Settings
from tests.helpers.command import strict_json
from tests.helpers.meshes import wing
from tests.helpers.sequences import frames, look_at_all, shot, write

NUMBER = (int, float)
FRAME = {
    "frame": NUMBER,
    "file": str,
    "vertices": (int, None),
    "faces": (int, None),
    "uvs": (int, None),
    "normals": (int, None),
    "objects": (int, None),
    "materials": [str],
    "libraries": [{"name": str, "found": bool}],
    "maps": [{"name": str, "statement": str, "found": bool}],
    "box": ({"min": [NUMBER], "max": [NUMBER]}, None),
    "drift": ({"centre": [NUMBER], "centre_diagonals": (*NUMBER, None), "size_ratio": (*NUMBER, None)}, None),
    "speed": dict.fromkeys(("mean", "fastest", "centre"), (*NUMBER, None)),
    "bytes": int,
    "modified": (str, None),
}
FINDING = {
    "check": str,
    "severity": ("error", "warning", "note"),
    "frames": [NUMBER],
    "message": str,
    "where": [{"file": str, "line": (int, None), "element": (str, None)}],
    "numbers": {},
    "fixes": [str],
}
DOCUMENT = {
    "format": 2,
    "tool": {"name": "meshqc", "version": str},
    "folder": str,
    "verdict": {"errors": int, "warnings": int, "notes": int},
    "sequences": [
        {
            "name": str,
            "folder": str,
            "pattern": str,
            "first": NUMBER,
            "last": NUMBER,
            "step": NUMBER,
            "count": int,
            "missing": [NUMBER],
            "reference": (*NUMBER, None),
            "frames": [FRAME],
            "findings": [FINDING],
            "checks": {"skipped": [{"check": str, "reason": str}], "failed": [{"check": str, "error": str}]},
        }
    ],
    "not_sequences": [{"folder": str, "pattern": str, "count": int, "reason": str}],
    "not_inspected": [{"file": str, "reason": str}],
}
"""The shape of the document. A shape is a type, a tuple of alternatives, a list with one shape, or a dict of shapes."""


def assert_shape(value: Any, shape: Any, path: str = "$") -> None:
    if isinstance(shape, dict):
        assert isinstance(value, dict), path
        assert shape.keys() <= value.keys(), f"{path}: {shape.keys() - value.keys()} missing"
        for key, inner in shape.items():
            assert_shape(value[key], inner, f"{path}.{key}")
    elif isinstance(shape, list):
        assert isinstance(value, list), path
        for index, item in enumerate(value):
            assert_shape(item, shape[0], f"{path}[{index}]")
    elif isinstance(shape, tuple):
        assert any(_fits(value, one) for one in shape), f"{path}: {value!r}"
    else:
        assert _fits(value, shape), f"{path}: {value!r}"


def _fits(value: Any, shape: Any) -> bool:
    if isinstance(shape, dict | list):
        try:
            assert_shape(value, shape)
        except AssertionError:
            return False
        return True
    return type(value) is shape if isinstance(shape, type) else bool(value == shape)


def document(result: FolderInspection) -> Any:
    return strict_json(json_text(folder_document(result)))


@pytest.fixture(scope="module")
def everything(demo: Path) -> Any:
    return document(inspect_folder(demo, Settings(expected=(Fraction(1), Fraction(15)), size=1.8)))


def test_shape(everything: Any) -> None:
    assert_shape(everything, DOCUMENT)
    assert len(everything["sequences"]) == 4
    assert all(sequence["frames"] for sequence in everything["sequences"])
    assert any(sequence["findings"] for sequence in everything["sequences"])


def test_the_shape_test_can_fail(everything: Any) -> None:
    for broken in ({**everything, "format": 1}, {**everything, "folder": None}, {"format": 2}):
        with pytest.raises(AssertionError):
            assert_shape(broken, DOCUMENT)


def test_counts_and_boxes_agree_with_a_plain_recount(everything: Any, demo: Path) -> None:
    """Each element has a line of its own (OBJ Appendix B1 v3.0). The lines are counted without the tool's code."""
    checked = 0
    for sequence in everything["sequences"]:
        if sequence["name"] == "manta_broken":
            continue
        for frame in sequence["frames"]:
            lines = [line.split() for line in (demo / frame["file"]).read_text().splitlines() if line.strip()]
            words = [line[0] for line in lines]
            counted = {key: words.count(word) for key, word in (("vertices", "v"), ("uvs", "vt"), ("normals", "vn"))}
            assert counted == {key: frame[key] for key in counted}
            assert frame["faces"] == words.count("f")
            columns = list(zip(*[map(float, line[1:4]) for line in lines if line[0] == "v"], strict=True))
            assert frame["box"] == {"min": list(map(min, columns)), "max": list(map(max, columns))}
            checked += 1
    assert checked == 24 + 24 + 12  # manta, buoy and kelp_broken


def test_an_unreadable_frame_has_no_counts(everything: Any) -> None:
    """Frame 7 of the demo's broken manta is cut off (demo/defects.py)."""
    (sequence,) = (one for one in everything["sequences"] if one["name"] == "manta_broken")
    (frame,) = (one for one in sequence["frames"] if one["frame"] == 7)
    for key in ("vertices", "faces", "uvs", "normals", "objects", "box", "drift"):
        assert frame[key] is None
    assert frame["materials"] == frame["libraries"] == frame["maps"] == []


def test_drift_is_measured_from_the_reference(tmp_path: Path) -> None:
    corners = "v 0 0 0\nv 1 0 0\nv 1 2 0\nv 0 2 0\nv 0 0 2\nv 1 0 2\nv 1 2 2\nv 0 2 2\nf 1 2 3 4\nf 5 6 7 8\n"
    moved = corners.replace("v 1 ", "v 3 ").replace("v 0 ", "v 2 ")
    files = {"jelly.1.obj": corners, "jelly.2.obj": corners, "jelly.3.obj": moved}
    result = look_at_all(tmp_path, {name: text.encode() for name, text in files.items()})
    drift = document(result)["sequences"][0]["frames"][2]["drift"]
    assert drift == {"centre": [2, 0, 0], "centre_diagonals": pytest.approx(2 / 3), "size_ratio": pytest.approx(1)}


def test_speed_is_the_way_since_the_frame_before(tmp_path: Path) -> None:
    """In frame 2, one of the four corners has moved by (3, 4, 0), a distance of 5 (Pythagoras). The centre of the
    bounding box has moved from (1/2, 1/2) to (2, 5/2). Nothing moves in frame 3. Frame 4 is missing, so frame 5 has no
    speed."""
    square = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n"
    drawn = square.replace(b"v 1 1 0", b"v 4 5 0")
    files = {
        "jelly.1.obj": square,
        "jelly.2.obj": drawn,
        "jelly.3.obj": drawn,
        "jelly.5.obj": square,
        "jelly.6.obj": b"v 0 0 0\n",
    }
    frames = document(look_at_all(tmp_path, files))["sequences"][0]["frames"]
    nothing = {"mean": None, "fastest": None, "centre": None}
    assert frames[0]["speed"] == nothing
    assert frames[1]["speed"] == {"mean": 1.25, "fastest": 5.0, "centre": pytest.approx(math.hypot(1.5, 2.0))}
    assert frames[2]["speed"] == {"mean": 0, "fastest": 0, "centre": 0}
    assert frames[3]["speed"] == nothing
    assert frames[4]["speed"]["mean"] is None
    for frame in frames:
        file = (tmp_path / frame["file"]).stat()
        assert frame["bytes"] == file.st_size
        assert datetime.fromisoformat(frame["modified"]).timestamp() == pytest.approx(file.st_mtime, abs=1e-3)


def test_without_size_there_is_no_ratio(tmp_path: Path) -> None:
    point = b"v 1 2 3\n"
    result = look_at_all(tmp_path, {"jelly.1.obj": point, "jelly.2.obj": point})
    (sequence,) = document(result)["sequences"]
    assert [frame["drift"] for frame in sequence["frames"]] == 2 * [
        {"centre": [0, 0, 0], "centre_diagonals": None, "size_ratio": None}
    ]


def test_frame_numbers_are_whole_or_sub_frames(tmp_path: Path) -> None:
    files = frames({1: wing(1), 2: wing(2), 3: wing(3)}) | {
        "manta.0001.5.obj": wing(1).text(),
        "manta.0002.5.obj": wing(2).text(),
    }
    (sequence,) = document(look_at_all(tmp_path, files))["sequences"]
    numbers = [frame["frame"] for frame in sequence["frames"]]
    assert numbers == [1, 1.5, 2, 2.5, 3]
    assert [type(number) for number in numbers] == [int, float, int, float, int]
    assert sequence["step"] == 0.5


def test_a_sequence_without_any_readable_frame(tmp_path: Path) -> None:
    write(tmp_path, {f"manta.{number:04}.obj": b"" for number in (1, 2)})
    (sequence,) = document(inspect_folder(tmp_path))["sequences"]
    assert sequence["reference"] is None
    assert {finding["check"] for finding in sequence["findings"]} == {"unreadable"}


def test_references_that_lead_to_a_file_are_found(tmp_path: Path) -> None:
    files = shot()
    frame = document(look_at_all(tmp_path / "whole", files))["sequences"][0]["frames"][0]
    assert frame["libraries"] == [{"name": "manta.mtl", "found": True}]
    assert frame["maps"] == [{"name": "skin.png", "statement": "map_Kd", "found": True}]
    del files["skin.png"]
    frame = document(look_at_all(tmp_path / "lacking", files))["sequences"][0]["frames"][0]
    assert frame["maps"] == [{"name": "skin.png", "statement": "map_Kd", "found": False}]


def test_what_is_left_out_is_the_same_in_every_form_that_tells_it(tmp_path: Path) -> None:
    write(tmp_path, {**shot(), "rest.obj": wing(1).text(), "a/0001_notes.obj": wing(1).text()})
    (tmp_path / "manta.0013.obj").symlink_to("nowhere")
    (tmp_path / "door").symlink_to(tmp_path.parent)
    result = inspect_folder(tmp_path)
    told = {one["file"]: one["reason"] for one in document(result)["not_inspected"]}
    assert told.keys() == {"rest.obj", "a/0001_notes.obj", "manta.0013.obj", "door"}
    assert rest_notes(result) == [f"{file}: {reason}" for file, reason in told.items()]
    page = html_text(gather(result, lambda *_: None))
    text = all_formats()["text"].render(result, Request(tmp_path, style=TextStyle(300)))
    for file, reason in told.items():
        assert f"{file}: {reason}" in page
        assert f"left out: {file}: {reason}" in text


def test_numbers_that_json_cannot_hold_become_null() -> None:
    """RFC 8259, section 6, doesn't permit infinity or NaN."""
    assert [finite(value) for value in (math.nan, math.inf, -math.inf, 1.5, 2, "x", None)] == [
        None, None, None, 1.5, 2, "x", None,
    ]  # fmt: skip
    with pytest.raises(ValueError, match="JSON"):
        json_text({"value": math.nan})
