"""Tests of rules files."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from inspector.checks.base.demands import JUDGES
from inspector.checks.base.registry import all_checks
from inspector.errors import MeshqcError
from inspector.inspection.folder_rules import load_rules
from inspector.report.rules_text import start_text
from inspector.rules.find import find_rules
from inspector.rules.read import MOST_DOTS, RULES_BYTES, has_long_key, line_of
from inspector.rules.rule_keys import KEYS
from inspector.rules.values import STATED_FRAMES
from inspector.sequence.discovery.settings import Settings
from tests.helpers.command import harmful
from tests.helpers.rules import rules_of


def test_every_kind_of_rule(tmp_path: Path) -> None:
    rules = rules_of(
        tmp_path,
        """
        [frames]
        reason = "the shot is cut"
        range = "1-240"
        rate = "24000/1001"
        padding = { value = 4, reason = "the importer counts digits" }
        [mesh]
        corners = [3, 4]
        uvs = "required"
        [scene]
        unit = "cm"
        size = "1.8 m"
        [checks]
        frozen = "off"
        size-jump = { severity = "error", thresholds = { jump-size = 1.3 }, reason = "a jelly" }
        """,
    )
    assert rules.frames == (1, 240)
    assert rules.rate == Fraction(24000, 1001)
    assert rules.value("mesh.corners") == (3, 4)
    assert rules.size == 180.0  # 1.8 m in units of 1 cm
    assert [rules.demands[f"frames.{key}"].reason for key in ("range", "padding")] == [
        "the shot is cut",
        "the importer counts digits",
    ]
    assert rules.checks["frozen"].severity == "off"
    assert rules.checks["size-jump"].thresholds == {"jump-size": 1.3}
    assert rules.reason("size-jump") == "a jelly"
    assert rules.reason("missing-frames") == "the shot is cut"


def test_what_is_stated_by_hand_beats_the_rules(tmp_path: Path) -> None:
    rules = rules_of(tmp_path, '[frames]\nrange = "1-240"\nrate = 24\n[scene]\nsize = 2\n')
    stated = Settings(expected=(Fraction(1), Fraction(12)), size=3.0).under(rules)
    assert (stated.expected, stated.size, stated.rate) == ((1, 12), 3.0, 24)
    assert Settings().under(rules).expected == (1, 240)


def test_the_nearest_file_in_the_folder_or_above_it(tmp_path: Path) -> None:
    shot = tmp_path / "show/shot"
    shot.mkdir(parents=True)
    assert load_rules(shot).file is None
    (tmp_path / "meshqc.toml").write_text("[mesh]\nvertices = 1\n")
    assert load_rules(shot).value("mesh.vertices") == 1
    (tmp_path / "show/meshqc.toml").write_text("[mesh]\nvertices = 2\n")
    assert load_rules(shot).value("mesh.vertices") == 2
    assert find_rules(tmp_path / "gone" / "away") == tmp_path / "meshqc.toml"


def test_a_folder_that_nobody_may_look_into_has_no_rules(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> bool:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "is_file", refuse)
    assert find_rules(tmp_path) is None


MISTAKES = {
    "[mesh]\n\ncorner = [3]\n": (3, "mesh.corner", "corners, vertices"),
    '[mesh]\nuvs = "needed"\n': (2, "mesh.uvs", '"required" or "forbidden"'),
    "[mesh]\ncorners = {\n": (2, "", "not valid TOML"),
    "[mesh]\ncorners = [3, 2]\n": (2, "mesh.corners", "whole numbers, each at least 3"),
    "[mesh]\nvertices = true\n": (2, "mesh.vertices", "a whole number of at least 1"),
    "# corners\n[mesh]\nfaces = 3\ncorners = [\n  3,\n  2,\n]\n": (4, "mesh.corners", "[3, 4]"),
    "[mash]\nfaces = 3\n": (1, "mash", "frames, mesh, scene, textures, captions, checks"),
    "mesh = 3\n": (1, "mesh", "expected a table"),
    '[frames]\nrange = "24"\n': (2, "frames.range", "1-240"),
    '[frames]\nrange = "24-1"\n': (2, "frames.range", "the last frame is before the first; did you mean 1-24?"),
    '[frames]\nrange = "1-9999999"\n': (2, "frames.range", f"at most {STATED_FRAMES:,} frames"),
    "[frames]\nrate = 0\n": (2, "frames.rate", "24000/1001"),
    '[scene]\nup = "y"\n': (2, "scene.up", "scene.height"),
    '[scene]\nsize = "2 m"\n': (2, "scene.size", "scene.unit"),
    '[scene]\nunit = "m"\nsize = "2 fathoms"\n': (3, "scene.size", "1.8 m"),
    '[scene]\nunit = "fathom"\n': (2, "scene.unit", '"mm", "cm"'),
    "[scene]\nsides = [1, 2]\n": (2, "scene.sides", "three numbers above 0"),
    "[textures]\npower_of_two = false\n": (2, "textures.power_of_two", "true"),
    '[checks]\nfrozn = "off"\n': (2, "checks.frozn", "nearest: frozen"),
    '[checks]\nfrozen = "loud"\n': (2, "checks.frozen", "off, error, warning, note"),
    '[checks.frozen]\nseverity = "off"\nwhy = "x"\n': (3, "checks.frozen.why", "severity, thresholds, reason"),
    "[checks]\nsize-jump = { thresholds = { jump = 2 } }\n": (
        2,
        "checks.size-jump.thresholds.jump",
        "it has jump-size",
    ),
    "[checks]\nunreadable = { thresholds = { jump = 2 } }\n": (
        2,
        "checks.unreadable",
        "none of its thresholds can be set",
    ),
    "[checks]\nsize-jump = { thresholds = { jump-size = -1 } }\n": (2, "jump-size", "above 0"),
    "[mesh]\nreason = 3\nfaces = 2\n": (2, "mesh.reason", "text in quotation marks"),
    "[mesh]\nfaces = { worth = 2 }\n": (2, "mesh.faces.worth", "value, reason"),
    "[mesh]\nfaces = { reason = 'x' }\n": (2, "mesh.faces", "a whole number of at least 1"),
}


@pytest.mark.parametrize("text", MISTAKES, ids=[key for _, key, _ in MISTAKES.values()])
def test_a_mistake_is_told_with_its_line_and_what_is_allowed(tmp_path: Path, text: str) -> None:
    line, key, allowed = MISTAKES[text]
    with pytest.raises(MeshqcError) as error:
        rules_of(tmp_path, text)
    message = str(error.value)
    assert "stated.toml" in message
    assert re.search(rf"line {line}\b", message)
    assert key in message
    assert allowed in message
    assert "\n" not in message


def test_a_hostile_file_is_told_safely(tmp_path: Path) -> None:
    with pytest.raises(MeshqcError) as error:
        rules_of(tmp_path, '[mesh]\n"\\u001b[2J\\u202e" = "\\u001b]0;x\\u0007"\n')
    assert harmful(str(error.value)) == []
    reasons = rules_of(tmp_path, '[mesh]\nfaces = { value = 3, reason = "\\u001b[2J\\nx" }\n').demands
    assert harmful(reasons["mesh.faces"].reason) == []


def test_what_is_no_rules_file(tmp_path: Path) -> None:
    file = tmp_path / "meshqc.toml"
    file.write_bytes(b"[mesh]\n# \xff\n")
    with pytest.raises(MeshqcError, match="line 2: not UTF-8"):
        load_rules(tmp_path)
    file.write_bytes(b"#" * (RULES_BYTES + 1))
    with pytest.raises(MeshqcError, match="too many for a rules file"):
        load_rules(tmp_path)
    with pytest.raises(MeshqcError, match="can't be read"):
        load_rules(tmp_path, tmp_path / "gone.toml")


def test_the_line_of_a_key_whatever_stands_around_it() -> None:
    text = '# faces\n[a]\nfaces = """\n[mesh]\nfaces = 1\n"""\n[mesh]\n"faces" = [\n 1, # faces\n]\nother = "faces"\n'
    assert tomllib.loads(text)["mesh"]["faces"] == [1]
    assert line_of(text, ("mesh", "faces")) == 8
    assert line_of(text, ("a", "faces")) == 3
    assert line_of(text, ("mesh",)) == 7


def test_the_commented_start_is_valid_whole_and_line_by_line(tmp_path: Path) -> None:
    text = start_text()
    assert rules_of(tmp_path, text).demands == {}
    assert all(len(line) <= 120 for line in text.splitlines())
    head, tables = text.split("\n\n", 1)
    rules = rules_of(tmp_path, re.sub(r"(?m)^# ([\w-]+ = )", r"\1", tables))
    assert head.startswith("#")
    assert list(rules.demands) == list(KEYS)
    assert len(rules.checks) == 3


def test_every_demand_is_judged_or_a_setting_of_other_judgements() -> None:
    settings = {"frames.rate", "scene.unit", "scene.height", "captions.picture"}
    assert KEYS.keys() - JUDGES.keys() == settings
    assert JUDGES.keys() <= KEYS.keys()


def test_what_can_be_set_is_asked_for_and_is_a_number() -> None:
    for check in all_checks():
        assert all(isinstance(one.value, int | float) and one.value > 0 for one in check.thresholds if one.settable)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a." * 22_000 + "b = 1\n", "more than 200 dots"),
        ('"\\' * 30_000, "not valid TOML"),
        ("x = " + "[" * 5_000, "nested too deeply"),
        ("x = " + "{a = " * 5_000, "nested too deeply"),
        ("[checks]\n" + "".join(f"# loop {n}\n" for n in range(4_000)) + "loop = 7\n", "expected a table"),
    ],
    ids=["dots", "quotation marks", "lists", "tables", "a key that every line names"],
)
def test_small_files_that_would_take_minutes_end_in_a_sentence(tmp_path: Path, text: str, words: str) -> None:
    """These files were found by attacking the TOML reader: 45 KB took 90 s, and deep nesting ended in Python's
    RecursionError."""
    with pytest.raises(MeshqcError, match=words):
        rules_of(tmp_path, text)


@pytest.mark.parametrize(
    "comment", ["# {}\n[frames]", "[frames] # it's {}", "  # a = 1 {}\n[frames]", "# '{}'\n[frames]"]
)
def test_a_comment_of_many_dots_is_no_key(tmp_path: Path, comment: str) -> None:
    assert rules_of(tmp_path, comment.format("." * 300) + "\nrange = '1-4'\n").frames == (1, 4)


@pytest.mark.parametrize(("dots", "long"), [(MOST_DOTS, False), (MOST_DOTS + 1, True)])
@pytest.mark.parametrize(
    "line",
    [
        "b{} = 1",
        "y.z = {{b = 1.5, c{} = 2}}",
        "[b{}]",
        "'#'{} = '...'",
        "b{} = 1 # ..",
        '"=#\\"."{} = ". = ."',
        '"\u2028"{} = "x"',
    ],
)
def test_a_key_is_long_from_so_many_dots(line: str, dots: int, long: bool) -> None:
    text = "x = 1\r\n" + line.format(".a" * dots) + "\r\n"
    assert has_long_key(text) == long
    tomllib.loads(text)
