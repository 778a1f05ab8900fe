"""Subjects of messages: names with a noun and the words that agree with their number."""

from __future__ import annotations

import pytest

from inspector.checks.base.libraries import Subject, named
from inspector.names import Name


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
