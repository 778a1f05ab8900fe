"""HTML pages parsed by html5lib, which follows the HTML standard's own algorithm."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

import html5lib


def parsed(text: str) -> Element:
    """Return the root of the document, without namespaces. Anything that the standard calls an error raises an
    exception."""
    document: Element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    return document


def words(element: Element) -> str:
    return " ".join("".join(_texts(element)).split())


def _texts(element: Element) -> Iterator[str]:
    if element.tag not in ("script", "style"):
        yield element.text or ""
        for child in element:
            yield from _texts(child)
            yield child.tail or ""


def classed(root: Element, name: str) -> Iterator[Element]:
    return (one for one in root.iter() if name in one.get("class", "").split())


def frame_rows(page: Element) -> list[list[Element]]:
    return [list(row) for row in page.iter("tr") if row.get("data-x") is not None]


def exact(cell: Element) -> float | None:
    value = cell.find("data")
    return None if value is None else float(value.attrib["value"])
