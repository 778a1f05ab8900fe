"""Tests that strings, docstrings, comments and pages are free of the bad habits of style that a program can find.

Each habit is a phrase that a reader would have to read twice, such as `is no file` for `is not a file`.
"""

from __future__ import annotations

import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

from inspector.cli.manual_pages import TOPICS

ROOT = Path(__file__).parents[2]
ROOMS = (
    "checks",
    "fixes",
    "inspection",
    "report",
    "cli",
    "delivery",
    "sequence",
    "formats",
    "demo",
    "surface",
    "lettering",
    "rules",
    "picture",
    "_native",
    "tui",
)
"""Packages that are free of these habits. Add a package when it is free of them too."""
PAGES = ("README.md", "DEVELOPERS.md", *(f"inspector/manual/{topic}.md" for topic in TOPICS))

HABITS = {
    "anew": r"\banew\b",
    "is no THING": r"(?<!there )\b(?:is|are) no "
    r"(?:file|folder|number|text|sequence|place|cell|object|image|statement|mesh|loop)",
    "told of": r"\b(?:told|tells?) of\b",
    "told apart": r"\btold apart\b",
    "behind the point": r"\bbehind the (?:decimal )?point\b",
    "stands behind": r"\bstands? (?:behind|under|by itself)\b",
    "keyboard face": r"\b(?:keyboard|headless) face\b",
    "as often as you like": r"\bas often as you like\b",
    "a second": r"\b(?:frames|pictures) a second\b",
    "held against": r"\b(?:held|hold (?:it|them|others|the others)) against\b",
    "one behind the other": r"\bone behind the other\b",
    "the one before": r"\bthe (?:one|frame|export|line|row|file|sample) before\b(?! (?:and|it|this|the|that)\b)",
    "lacks": r"\black(?:s|ing)?\b",
    "whatever": r"\bwhatever\b",
    "None where": r"(?-i:\bNone where\b)",
    "Most things": r'(?-i:"""(?:Most|Fewest) \w+s\b)',
    "what, without a noun": r'(?-i:(?:"""|\b[a-z_]+: )What (?!to\b))',
    "says why": r"\bsays (?:so|why|whether|which|what)\b",
    "else": r", (?:or )?else\b",
}
HABIT = re.compile("|".join(f"({pattern})" for pattern in HABITS.values()), re.IGNORECASE)


def passages(path: Path) -> Iterator[tuple[int, str]]:
    """Yield the line number and the text of every string and comment of a module, or of every line of a page."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        yield from enumerate(text.splitlines(), 1)
        return
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type in (tokenize.STRING, tokenize.COMMENT):
            yield token.start[0], " ".join(token.string.split())


def found(path: Path) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}:{line}: {match[0]}"
        for line, text in passages(path)
        for match in HABIT.finditer(text)
    ]


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_is_free_of_them(room: str) -> None:
    assert [hit for path in sorted((ROOT / "inspector" / room).rglob("*.py")) for hit in found(path)] == []


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_free_of_them(page: str) -> None:
    assert found(ROOT / page) == []


def test_no_skeleton_is_left_unfinished() -> None:
    """`tests.helpers.new` puts a mark into its skeletons wherever something has to be written."""
    texts = [path for kind in ("*.py", "*.md") for path in (ROOT / "inspector").rglob(kind)]
    texts += (ROOT / "tests").rglob("test_*.py")
    mark = "TO" + "DO"
    unfinished = [str(path.relative_to(ROOT)) for path in texts if mark in path.read_text(encoding="utf-8")]
    assert not unfinished, f"replace each mark {mark} in these files: {unfinished}"


def test_each_habit_is_seen() -> None:
    examples = {
        "anew": "written anew",
        "is no THING": "x is no folder",
        "told of": "what is told of",
        "told apart": "they are told apart",
        "behind the point": "digits behind the point",
        "stands behind": "what stands behind",
        "keyboard face": "the keyboard face",
        "as often as you like": "as often as you like",
        "a second": "24 frames a second",
        "held against": "the frame held against",
        "one behind the other": "one behind the other",
        "the one before": "that equals the one before",
        "lacks": "a frame that lacks UVs",
        "whatever": "whatever its size",
        "None where": "None where there is none",
        "Most things": '"""Most frames in a chunk."""',
        "what, without a noun": "plan: What was done.",
        "says why": "the plan says why",
        "else": "a ZIP file, else a folder",
    }
    assert examples.keys() == HABITS.keys()
    assert all(re.search(HABITS[name], example) for name, example in examples.items())
