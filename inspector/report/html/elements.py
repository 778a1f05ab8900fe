"""Make the elements of an HTML page.

All text on the page passes through this module, which escapes what could control a browser or a terminal.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from importlib.resources import files
from xml.etree import ElementTree as Xml

from inspector.names import safe

Element = Xml.Element
Content = Element | str | Iterable["Content"] | None

_OWN_LINE = frozenset(
    "article dd div dl dt figure h1 h2 h3 h4 header li nav p path section summary table td th tr".split(" ")  # noqa: SIM905
)
"""Tags that are followed by a line end, so that words in adjacent cells stay separate."""


def el(tag: str, *content: Content, **attributes: str | None) -> Element:
    """Make an element, as in `el("a", "frame 8", href="#s1-f1", aria_label="...", class_="E")`.

    Args:
        tag: Name of the element.
        content: Elements, strings, or nested iterables of these. Items that are None are left out.
        attributes: Attributes of the element. Underscores at the ends of names are dropped, and other underscores
            become hyphens. An attribute whose value is None is left out.
    """
    said = {key.strip("_").replace("_", "-"): safe(value) for key, value in attributes.items() if value is not None}
    element = Xml.Element(tag, said)
    _put(element, content)
    if tag in _OWN_LINE:
        element.tail = "\n"
    return element


def _put(element: Element, content: Content) -> None:
    if isinstance(content, Element):
        element.append(content)
    elif isinstance(content, str):
        if len(element):
            element[-1].tail = (element[-1].tail or "") + safe(content)
        else:
            element.text = (element.text or "") + safe(content)
    elif content is not None:
        for part in content:
            _put(element, part)


def terms(pairs: Iterable[tuple[str, Content]]) -> Element:
    """Make a list of terms with descriptions. A term without a description is left out."""
    return el("dl", [(el("dt", term), el("dd", said)) for term, said in pairs if not empty(said)])


def picture(png: bytes, alternative: str, caption: Content = None, *, size: tuple[int, int] | None = None) -> Element:
    """Make a figure with a picture that is embedded as data."""
    source = f"data:image/png;base64,{base64.b64encode(png).decode()}"
    width, height = (None, None) if size is None else map(str, size)
    image = el("img", src=source, alt=alternative, width=width, height=height)
    return el("figure", image, None if caption is None else el("figcaption", caption))


def empty(content: Content) -> bool:
    """Return whether the content is empty. An element without children is not empty, although Python treats it as
    false."""
    return content is None or (not isinstance(content, Element) and not content)


def page_text(title: str, body: Element) -> str:
    """Write an HTML document in ASCII (HTML Living Standard, html.spec.whatwg.org).

    Its Content Security Policy (Level 3, W3C) makes the browser load no other files and run only the page's own script.

    Args:
        title: Title of the page.
        body: Body of the page. The script is appended to this element.
    """
    style, script = (_own(name) for name in ("page.css", "page.js"))
    policy = (
        f"default-src 'none'; img-src data:; style-src {_hash(style)}; script-src {_hash(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=policy),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name="color-scheme", content="light dark"),
        el("title", title),
        _raw("style", style),
    )
    body.append(_raw("script", script))
    text: bytes = Xml.tostring(el("html", head, body, lang="en"), "us-ascii", method="html")
    return f"<!DOCTYPE html>\n{text.decode()}\n"


def _own(name: str) -> str:
    return (files("inspector.report.html") / name).read_text("ascii")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _raw(tag: str, text: str) -> Element:
    """Make a style or script element. In HTML, the text of these elements is not escaped."""
    element = Xml.Element(tag)
    element.text = text
    return element
