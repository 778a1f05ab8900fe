"""Tests of captions files."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from inspector.errors import MeshqcError
from inspector.lettering.caption_file import DEFAULTS, KEYS, Version, find_captions, read_captions, with_typed
from inspector.lettering.caption_writing import captions_toml, typed
from inspector.sequence.discovery.scope import Scope

WHOLE = """\
[defaults]
weight = 400
colour = "#102030"
frames = "3-7"

[[version]]
name = "en"
texts = ["ONE", "Two words"]
base = "maps/base.png"
box = [10, 20, 110, 80]
height = 12.5
outline = "#ffffff"
outline_width = 0.2
align = "left"
opacity = 0.5
material = "skin"

[[version]]
name = "de"
texts = "Drei"
box = "island 4"
font = 'fonts\\own.ttf'
"""


def written(folder: Path, text: str | bytes, name: str = "captions.toml") -> Path:
    (folder / "maps").mkdir(parents=True, exist_ok=True)
    (folder / "fonts").mkdir(exist_ok=True)
    (folder / "maps/base.png").write_bytes(b"image")
    (folder / "fonts/own.ttf").write_bytes(b"font")
    file = folder / name
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return file


def read(folder: Path, text: str | bytes, name: str = "captions.toml") -> tuple[Version, ...]:
    return read_captions(written(folder, text, name), Scope(folder))


def test_every_key(tmp_path: Path) -> None:
    en, de = read(tmp_path, WHOLE)
    root = tmp_path.resolve()
    assert en == Version(
        "en", ("ONE", "Two words"), None, 400, (16, 32, 48), (255, 255, 255), 0.2, "left", (10, 20, 110, 80), 12.5,
        "skin", root / "maps/base.png", 0.5, (Fraction(3), Fraction(7)),
    )  # fmt: skip
    assert (de.texts, de.box, de.font, de.colour) == (("Drei",), 4, root / "fonts/own.ttf", (16, 32, 48))


def test_letters_in_two_parts_are_one_where_there_is_one(tmp_path: Path) -> None:
    """e and U+0301 become U+00E9 (Unicode Standard Annex 15)."""
    (version,) = read(tmp_path, '[[version]]\nname = "a"\ntexts = "Cafe\\u0301"\n')
    assert version.texts == ("Caf\u00e9",)


def test_a_table_has_one_row_for_each_version(tmp_path: Path) -> None:
    rows = 'name,texts,colour,box,opacity,weight,frames\nen,ONE|Two,#102030,10 20 110 80,0.5,700,\n"de",Drei,,,,,1-4\n'
    en, de = read(tmp_path, rows, "captions.csv")
    assert en == Version("en", ("ONE", "Two"), weight=700, colour=(16, 32, 48), box=(10, 20, 110, 80), opacity=0.5)
    assert de == Version("de", ("Drei",), frames=(Fraction(1), Fraction(4)))


HEAD = '[[version]]\nname = "a"\ntexts = "A"\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD + 'color = "#000000"\n', r"line 4: version 1: color: no such key.*\(nearest: colour\)"),
        (HEAD + 'colour = "red"\n', r'line 4: version 1: colour: expected a colour such as "#10233f"'),
        (HEAD + "opacity = 0\n", r"line 4: version 1: opacity: expected a number above 0"),
        (HEAD + "opacity = nan\n", r"line 4: version 1: opacity"),
        (HEAD + "weight = true\n", r"line 4: version 1: weight"),
        (HEAD + "box = [5, 0, 5, 9]\n", r"line 4: version 1: box: left must be less than right"),
        (HEAD + 'base = "../other.png"\n', r"line 4: version 1: base: ../other.png is outside"),
        (HEAD + 'base = "/etc/passwd"\n', r"line 4: version 1: base: /etc/passwd is outside"),
        (HEAD + 'font = "fonts/none.ttf"\n', r"line 4: version 1: font: fonts/none.ttf does not exist"),
        (HEAD + 'frames = "9-1"\n', r"line 4: version 1: frames: the last frame is before the first"),
        (HEAD + HEAD.replace("A", "B"), r"line 5: version 2: name: another version already has the name a"),
        ('[[version]]\nname = "../a"\ntexts = "A"\n', r"line 2: version 1: name: expected a name of 1 to 64 letters"),
        ('[[version]]\nname = "a"\n', r"line 1: version 1: texts: a value is required"),
        (
            '[[version]]\nname = "a"\ntexts = "A\\u202eB"\n',
            r"line 3: version 1: texts: U\+202E is not a printable",
        ),
        ('[[version]]\nname = "a"\ntexts = "\\u05d0"\n', r"line 3: version 1: texts: .*right to left"),
        (
            '[[version]]\nname = "a"\ntexts = "\\u0915\\u093f"\n',
            r"line 3: version 1: texts: U\+093F is a combining mark",
        ),
        ('[[version]]\nname = "a"\ntexts = "x\\u0302"\n', r"line 3: version 1: texts: U\+0302 is a combining mark"),
        ('[[version]]\nname = "a"\ntexts = []\n', r"line 3: version 1: texts"),
        ('[captions]\nname = "a"\n', r"captions: not allowed here"),
        ('[defaults]\nname = "a"\n' + HEAD, r"line 2: name: can't be a default, because each version needs"),
        ("version = 3\n", r"line 1: version: expected tables with the heading"),
        ("[defaults]\n", r"0 versions"),
        ("name = \n", r"not valid TOML"),
        (b"\xff", r"line 1: not UTF-8"),
        ("#" * 300_000, r"more than 262,144 bytes"),
    ],
)
def test_mistakes_are_named(tmp_path: Path, text: str | bytes, said: str) -> None:
    with pytest.raises(MeshqcError, match=rf"captions\.toml.*{said}"):
        read(tmp_path, text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name,texts\n\nen,ONE,more\n", r"line 3: version 1: the row has 3 cells, but the first row has only 2"),
        ("name,text\nen,ONE\n", r"line 1: text: no such column"),
        ("name,name\nen,ONE\n", r"line 1: name: given more than once"),
        ("name,texts,box\nen,ONE,1 2 three\n", r"line 2: version 1: box"),
        ("name,texts,opacity\nen,ONE,inf\n", r"line 2: version 1: opacity"),
        ('name,texts\nen,"ONE\n', r"not valid CSV"),
        ("", r"0 versions"),
    ],
)
def test_mistakes_in_a_table_are_named(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(MeshqcError, match=rf"captions\.csv.*{said}"):
        read(tmp_path, text, "captions.csv")


def test_a_link_that_leads_outside_is_not_followed(tmp_path: Path) -> None:
    outside = written(tmp_path / "outside", HEAD)
    inside = tmp_path / "inside"
    inside.mkdir()
    (inside / "captions.toml").symlink_to(outside)
    with pytest.raises(MeshqcError, match="a link to a file outside"):
        find_captions((inside,), Scope(inside))
    (inside / "own.ttf").symlink_to(outside)
    with pytest.raises(MeshqcError, match=r"own\.ttf is outside"):
        read(inside, HEAD + 'font = "own.ttf"\n', "other.toml")
    assert find_captions((tmp_path,), Scope(tmp_path)) is None


def test_a_written_file_is_read_as_the_same_versions(tmp_path: Path) -> None:
    scope = Scope(tmp_path)
    versions = read(tmp_path / "shot", WHOLE.replace("Drei", 'a \\" | \\\\ ü'))
    (tmp_path / "other").mkdir()
    file = tmp_path / "other" / "again.toml"
    file.write_text(captions_toml(versions, file.parent))
    assert "../shot/maps/base.png" in file.read_text()
    assert read_captions(file, scope) == versions


def test_what_is_typed_is_read_like_a_cell(tmp_path: Path) -> None:
    folder = tmp_path / "shot"
    scope = Scope(folder)
    versions = read(folder, WHOLE)
    blank = Version("x", ("X",))
    for version in versions:
        again = blank
        for key in KEYS:
            again = with_typed(again, key, typed(version, key, folder), folder, scope)
        assert again == version
    assert with_typed(versions[0], "colour", " ", folder, scope).colour == DEFAULTS.colour


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("colour", "red", "colour: expected a colour such as #10233f, but got red"),
        ("weight", "bold", "weight: expected a whole number from 100 to 900, but got bold"),
        (
            "box",
            "1 2 3",
            "box: expected automatic, an island such as island 2, or left, top, right and bottom in pixels of the ",
        ),
        ("frames", "9-1", "frames: the last frame is before the first"),
        ("base", "../secret.png", "base: ../secret.png is outside the inspected folder and the --textures folders"),
        ("texts", " ", "texts: a value is required"),
        ("texts", "a\x1bb", "texts: U+001B is not a printable character"),
    ],
)
def test_a_wrong_value_that_is_typed_is_named(tmp_path: Path, key: str, text: str, words: str) -> None:
    with pytest.raises(MeshqcError) as told:
        with_typed(Version("x", ("X",)), key, text, tmp_path, Scope(tmp_path))
    assert str(told.value).startswith(words)


def test_a_wrong_cell_of_a_table_is_described_as_it_has_to_be_written(tmp_path: Path) -> None:
    with pytest.raises(
        MeshqcError, match=r"line 2: version 1: box: expected .* \(such as 10 20 110 80\), but got \[1, 2\]"
    ):
        read(tmp_path, 'name,texts,box\nen,ONE,"[1, 2]"\n', "captions.csv")


def test_a_comment_of_many_dots_is_no_key(tmp_path: Path) -> None:
    (version,) = read(tmp_path, f"# {'.' * 300}\n[[version]]\nname = 'en'\ntexts = 'One'\n")
    assert version.name == "en"
    with pytest.raises(MeshqcError, match="more than 200 dots"):
        read(tmp_path, f"[[version]]\n{'a.' * 300}b = 1\n")
