"""A fixture that returns the output of a command line, and a check that output in any format is harmless."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from inspector.__main__ import main
from inspector.report.formats import all_formats
from tests.helpers.command import harmful, strict_json

_FORMULA = re.compile(r"\s*[=@+-]")
_NUMBER = re.compile(r"-?\d+(\.\d+)?(e[+-]?\d+)?(,|$)")

FORMATS = tuple(all_formats())
Said = Callable[..., str]


class _Tags(HTMLParser):
    """Collects the names of tags and attributes. A name with "evil" in it comes from a test file."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags |= {tag, *(name for name, _ in attrs)}


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    """Return a function that runs a command line, checks its exit code and stderr, and returns its stdout."""

    def run(*words: str | Path, codes: tuple[int, ...] = (0, 1)) -> str:
        code = main([*map(str, words)])
        out, err = capsys.readouterr()
        assert code in codes, (words, code, err)
        assert "Traceback" not in out + err
        assert "an internal error in meshqc" not in err
        assert not harmful(err.replace("\r", ""))
        return out

    return run


def assert_harmless(text: str, form: str) -> None:
    """Check that a text is well-formed. It must have no control characters, no hidden characters, no formulas, and no
    markup that comes from a file."""
    assert not harmful(text.replace("\r\n", "\n") if form == "csv" else text), form
    if form == "json":
        strict_json(text)
    if form == "junit":
        ElementTree.fromstring(text)
    if form == "html":
        parser = _Tags()
        parser.feed(text)
        assert "evil" not in parser.tags
    if form == "csv":
        for delimiter in (",", ";"):  # which one separates cells in a spreadsheet depends on its locale
            cells = [cell for row in csv.reader(io.StringIO(text), delimiter=delimiter) for cell in row]
            assert [cell for cell in cells if _FORMULA.match(cell) and not _NUMBER.match(cell)] == []
