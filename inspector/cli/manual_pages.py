"""Show and search the manual: the files in `inspector/manual/`, with some tables made from the registries."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import groupby
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.names import counted, safe

FOLDER = Path(__file__).parents[1] / "manual"
TOPICS = (
    *(
        "start",
        "symptoms",
        "words",
        "check",
        "watch",
        "rules",
        "fix",
        "verify",
        "pack",
        "compare",
        "formats",
        "alembic",
    ),
    *("texture", "captions", "terminal", "queue", "python", "json", "commands", "checks"),
)
"""Names of the pages, in the order of the table of contents."""

_PLACE = re.compile(r"\{\{(\w+)\}\}")
_OWN_PASSAGE = re.compile(r"#| {4}|\||\s*([-*]|\d+\.) ")
"""The beginning of a line that starts a passage: a heading, a line of code, a row of a table, or a list item."""
_HITS = 3
"""Maximum number of lines per page in the results of a search."""


@dataclass(frozen=True, slots=True)
class PageLine:
    """A line of a page.

    Attributes:
        text: The line.
        heading: The heading above the line; for a heading, the heading itself.
        made: Whether the line is part of a table made from the registries.
    """

    text: str
    heading: str
    made: bool


@dataclass(frozen=True, slots=True)
class Hit:
    """A page with a passage that contains all words of a search.

    Attributes:
        topic: Name of the page.
        lines: The lines to show, in the order of the page. Each line is in such a passage and contains at least one of
            the words.
    """

    topic: str
    lines: tuple[PageLine, ...]


def page(topic: str) -> str:
    """Return a page as Markdown, with its tables.

    Raises:
        MeshqcError: There is no such page. The message names similar pages, or all pages if none is similar.
    """
    if topic not in TOPICS:
        near = get_close_matches(topic.strip().lower(), TOPICS, n=3) or TOPICS
        raise MeshqcError(f"the manual has no page {safe(topic)}; choose one of: {', '.join(near)}")
    return "".join(f"{line.text}\n" for line in _lines(topic))


def _lines(topic: str) -> Iterator[PageLine]:
    heading = ""
    for written in (FOLDER / f"{topic}.md").read_text(encoding="utf-8").splitlines():
        place = _PLACE.fullmatch(written)
        for text in _TABLES[place[1]]() if place else (written,):
            if text.startswith("#"):
                heading = text.lstrip("# ")
            yield PageLine(text, heading, place is not None)


def contents() -> str:
    width = max(map(len, TOPICS))
    lines = [f"  {topic.ljust(width)}  {_title(topic)}" for topic in TOPICS]
    head = ["meshqc manual TOPIC shows a page; meshqc manual --find WORDS searches all pages.", ""]
    return "\n".join([*head, *lines]) + "\n"


def find(words: Sequence[str]) -> list[Hit]:
    """Find the passages that contain all of the words, in any order and regardless of case.

    A passage is a paragraph, a heading, a list item, a row of a table or a line of code. A match inside a longer word
    counts.

    Returns:
        The pages with such passages, the most relevant first.
    """
    wanted = [word.casefold() for word in words]

    def rank(hit: Hit) -> tuple[bool, int, int]:
        prose = sum(not line.made for line in hit.lines)
        named = max(len({*wanted} & {*line.heading.casefold().split()}) for line in hit.lines)
        return prose == 0, -named, -prose

    hits = [Hit(topic, tuple(_found(topic, wanted))) for topic in TOPICS]
    return sorted((hit for hit in hits if hit.lines), key=rank)


def _found(topic: str, wanted: Sequence[str]) -> Iterator[PageLine]:
    for passage in _passages(topic):
        text = " ".join(line.text for line in passage).casefold()
        if all(word in text for word in wanted):
            yield from (line for line in passage if any(word in line.text.casefold() for word in wanted))


def _passages(topic: str) -> Iterator[list[PageLine]]:
    passage: list[PageLine] = []
    for line in _lines(topic):
        if not line.text.strip() or _OWN_PASSAGE.match(line.text):
            yield passage
            passage = []
        passage.append(line)
    yield passage


def hits_text(words: Sequence[str], hits: Sequence[Hit]) -> str:
    if not hits:
        shown = ", ".join(map(safe, words))
        what = f"contains {shown}" if len(words) == 1 else f"has a passage with all of these words ({shown})"
        return f"no page of the manual {what}; to list the pages, run meshqc manual\n"
    lines = [line for hit in hits for line in _hit_lines(hit)]
    return "\n".join([*lines, "meshqc manual TOPIC shows a whole page"]) + "\n"


def _hit_lines(hit: Hit) -> Iterator[str]:
    """Yield the title of a page, and the first lines that were found on it, each below its heading."""
    title = _title(hit.topic)
    yield f"{hit.topic}: {title}"
    for heading, lines in groupby(hit.lines[:_HITS], lambda line: line.heading):
        if heading != title:
            yield f"  {heading}"
        yield from (f"    {line.text.strip()}" for line in lines if not line.text.startswith("#"))
    if len(hit.lines) > _HITS:
        yield f"  {counted(len(hit.lines) - _HITS, 'more line')}: meshqc manual {hit.topic}"


def _title(topic: str) -> str:
    with (FOLDER / f"{topic}.md").open(encoding="utf-8") as file:
        return file.readline().removeprefix("# ").rstrip("\n")


def _row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _head(*cells: str) -> Iterator[str]:
    yield _row(*cells)
    yield _row(*("---" for _ in cells))


def _checks() -> Iterator[str]:
    from inspector.checks.base.registry import all_checks

    yield from _head("check", "worst", "what it finds", "fixes")
    for check in all_checks():
        yield _row(f"`{check.id}`", check.severity.word, check.title, ", ".join(f"`{fix}`" for fix in check.fixes))


def _fixes() -> Iterator[str]:
    from inspector.fixes.base.registry import all_fixes

    yield from _head("fix", "kind", "what it does", "parameters")
    for fix in all_fixes():
        yield _row(f"`{fix.id}`", fix.kind_text, fix.title, ", ".join(f"`{key}`" for key in fix.parameters))


def _commands() -> Iterator[str]:
    from inspector.cli.registry import all_commands

    for command in all_commands().values():
        yield f"## {command.name or 'meshqc FOLDER'}"
        yield ""
        yield from (f"    {line}" for line in command.help_text().splitlines())
        yield ""


def _keys() -> Iterator[str]:
    from inspector.tui.keys import SCREENS

    for title, keys in SCREENS.items():
        yield f"### {title}"
        yield ""
        yield from _head("key", "name", "what it does")
        for key in keys:
            if key.keys:
                yield _row(f"`{key.shown}`", key.name, key.help)
        yield ""


def _rules() -> Iterator[str]:
    from inspector.rules.rule_keys import KEYS

    yield from _head("rule", "value", "what it requires", "example")
    for key in KEYS.values():
        yield _row(f"`{key.name}`", key.allowed, key.meaning, f"`{key.example}`")


def _formats() -> Iterator[str]:
    from inspector.formats.format import Trait
    from inspector.formats.registry import all_formats

    yield from _head("format", "extensions", "read", "written", "can't hold")
    for one in all_formats():
        missing = [trait.value for trait in Trait if trait not in one.carries]
        reads = "whole animation" if one.scene is not None else "frames"
        writes = "yes" if one.write is not None or one.scene is not None else "frames" if one.id == "obj" else "no"
        endings = ", ".join(f"`{ending.decode()}`" for ending in one.endings)
        yield _row(one.title, endings, reads, writes, "; ".join(missing))


def _carried() -> Iterator[str]:
    """Make the table of the content that a delivery in each format keeps (see `tests/delivery/test_carried.py`)."""
    from inspector.formats.format import CONTENT
    from inspector.formats.registry import all_formats

    written = [one for one in all_formats() if one.write is not None or one.scene is not None or one.id == "obj"]
    yield from _head("content", *(one.title for one in written))
    for trait in CONTENT:
        yield _row(trait.value, *("kept" if trait in one.keeps else "reported" for one in written))


_TABLES: dict[str, Callable[[], Iterator[str]]] = {
    "checks": _checks,
    "fixes": _fixes,
    "commands": _commands,
    "keys": _keys,
    "rules": _rules,
    "formats": _formats,
    "carried": _carried,
}
