"""Tests of messages: nouns, verbs, pronouns and units agree in number."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.checks.base.helpers import in_diagonals, these_frames, these_have
from inspector.checks.base.libraries import Subject, named
from inspector.names import Name, amount, joined_words
from tests.helpers.sequences import look, shot


def names(text: str) -> list[Name]:
    return [Name(letter.encode()) for letter in text]


@pytest.mark.parametrize(
    ("text", "listed"),
    [
        ("", ""),
        ("a", "`a`"),
        ("ab", "`a` and `b`"),
        ("abc", "`a`, `b` and `c`"),
        ("abcd", "`a`, `b`, `c` and 1 more"),
        ("abcabdef", "`a`, `b`, `c` and 3 more"),
    ],
)
def test_lists_of_names(text: str, listed: str) -> None:
    assert named(names(text)) == listed


@pytest.mark.parametrize(
    ("thing", "text", "message"),
    [
        ("material", "a", "material `a` is used, but no library defines it"),
        ("material", "aa", "material `a` is used, but no library defines it"),
        ("material", "ab", "materials `a` and `b` are used, but no library defines them"),
        ("material library", "a", "material library `a` is used, but no library defines it"),
        (
            "material library",
            "abcde",
            "material libraries `a`, `b`, `c` and 2 more are used, but no library defines them",
        ),
    ],
)
def test_words_that_agree(thing: str, text: str, message: str) -> None:
    subject = Subject(thing, names(text))
    assert f"{subject} {subject:is/are} used, but no library defines {subject:it/them}" == message


def test_names_are_never_taken_for_words() -> None:
    subject = Subject("texture", [Name(b"{0:is/are}.png"), Name(b"a/b.png")])
    assert f"{subject} {subject:/up to }{1}" == "textures `{0:is/are}.png` and `a/b.png` up to 1"


def test_words_for_one_or_for_several_may_be_missing() -> None:
    assert f"found{Subject('map', names('a')):/, the first} here" == "found here"
    assert f"found{Subject('map', names('ab')):/, the first} here" == "found, the first here"


@pytest.mark.parametrize(
    ("value", "form", "text"),
    [
        (1.0, ".4g", "1 unit"),
        (1.00004, ".4g", "1 unit"),
        (1.0006, ".4g", "1.001 units"),
        (0.5, ".4g", "0.5 units"),
        (0.0, ".4g", "0 units"),
        (1.04, ".0f", "1 unit"),
        (1234.0, ",.0f", "1,234 units"),
    ],
)
def test_units_agree_with_the_value_as_shown(value: float, form: str, text: str) -> None:
    assert amount(value, "unit", form) == text


def test_frames_agree() -> None:
    assert (these_frames([7]), these_have([7])) == ("this frame", "this frame has")
    assert (these_frames([7, 8]), these_have([7, 8])) == ("these frames", "these frames have")


@pytest.mark.parametrize(
    ("words", "text"), [([], ""), (["8"], "8"), (["8", "16"], "8 or 16"), (["3", "4", "5"], "3, 4 or 5")]
)
def test_alternatives(words: list[str], text: str) -> None:
    assert joined_words(words, "or") == text


@pytest.mark.parametrize(
    ("diagonals", "text"),
    [
        (0.00005, "0.00005 of"),
        (0.0341, "0.034 of"),
        (0.996, "1 times"),
        (1.0, "1 times"),
        (2.13, "2.1 times"),
        (99.6, "100 times"),
        (1234.5, "1,234 times"),
    ],
)
def test_a_distance_in_diagonals_is_never_written_with_an_exponent(diagonals: float, text: str) -> None:
    assert in_diagonals(diagonals) == f"{text} the reference frame's diagonal"


@pytest.mark.parametrize(("numbers", "details"), [((5,), "`wobble`"), ((5, 6, 7), "3 places; the first is `wobble`")])
def test_places_of_a_problem(tmp_path: Path, numbers: tuple[int, ...], details: str) -> None:
    files = shot()
    files |= {name: files[name] + b"wobble 1\n" for name in (f"manta.{number:04}.obj" for number in numbers)}
    (finding,) = (one for one in look(tmp_path, files).findings if one.check == "unknown-statements")
    assert finding.message == f"a statement that the format does not define ({details})"
