"""Assemble the whole page."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from inspector import __version__
from inspector.checks.base.finding import Severity
from inspector.names import Name, amount, counted
from inspector.report.html.elements import Element, el, page_text, terms
from inspector.report.html.fixes import fixes_section
from inspector.report.html.gather import ReportPage, Shown
from inspector.report.html.receipt import receipt_section
from inspector.report.html.sequence import sequence_section, sign
from inspector.report.text import (
    found_words,
    rest_notes,
    rules_words,
    sequence_range,
    sequence_title,
    verdict_text,
    worst_of,
)
from inspector.sequence.discovery.settings import Settings, frame_text


def html_text(page: ReportPage) -> str:
    """Write the page as one ASCII file that loads no other files."""
    title = f"Inspection of {Name.from_path(page.folder.name or '/')}"
    body = el(
        "body",
        el("a", "skip to the findings", href="#findings", class_="skip"),
        el("header", el("h1", title), _verdict(page), _stated(page)),
        _contents(page),
        el("main", list(_parts(page)), id="findings", tabindex="-1"),
        el("footer", el("p", f"made by meshqc {__version__}, which never changes the inspected files")),
    )
    return page_text(title, body)


def _parts(page: ReportPage) -> Iterator[Element]:
    yield from map(sequence_section, page.sequences)
    if page.plan is not None or page.no_plan:
        yield fixes_section(page)
    if page.after:
        yield el("h2", "Inspection of the delivery", id="after", tabindex="-1")
        yield from map(sequence_section, page.after)
    if page.receipt is not None:
        yield receipt_section(page.receipt)


def _verdict(page: ReportPage) -> Element:
    result = page.result
    worst = max((severity for one in result.inspections if (severity := worst_of(one)) is not None), default=None)
    if not result.inspections:
        return el("p", verdict_text(result), class_="verdict")
    counts = [_counted(severity, result.count(severity)) for severity in reversed(Severity)]
    parts = [part for count in counts for part in (", ", count)][1:]
    clean = worst is None or worst is Severity.NOTE
    after = None if page.delivery is None else f"; verdict of the delivery: {verdict_text(page.delivery.after)}"
    failed = result.count(Severity.ERROR) > 0
    word = el("strong", "FAIL" if failed else "PASS", class_="E" if failed else "pass")
    return el("p", sign(worst), " ", word, " verdict: ", "clean: " if clean else None, parts, after, class_="verdict")


def _counted(severity: Severity, count: int) -> Element:
    return el("data", counted(count, severity.word), value=str(count), class_=severity.word)


def _stated(page: ReportPage) -> Element:
    result = page.result
    return terms(
        [
            ("folder", str(Name.from_path(page.folder))),
            ("stated", "; ".join(_statements(result.settings)) or "nothing"),
            ("rules", rules_words(result.settings.rules)),
            ("not inspected", [el("div", note) for note in rest_notes(result)]),
        ]
    )


def _statements(settings: Settings) -> Iterator[str]:
    if settings.expected is not None:
        yield f"frames {'-'.join(map(frame_text, settings.expected))} expected"
    if settings.size is not None:
        yield f"longest side {amount(settings.size, 'unit', 'g')}"
    if settings.reference is not None:
        yield f"reference frame {frame_text(settings.reference)}"
    if settings.rate is not None:
        yield f"{frame_text(settings.rate)} fps"
    if settings.uvs_from is not None:
        yield f"UVs from {Name.from_path(settings.uvs_from)}"
    yield from (f"more textures in {Name.from_path(folder)}" for folder in settings.textures)


def _contents(page: ReportPage) -> Element:
    """Make a table with links to all sequences, the worst first, and a list with links to the other sections."""
    links = []
    if page.plan is not None or page.no_plan:
        links.append(("fixes", "fixes"))
    if page.after:
        links.append(("after", "the delivery"))
    if page.receipt is not None:
        links.append(("receipt", "receipt"))
    heads = [el("th", head, scope="col") for head in _HEADS]
    rate = page.result.settings.rate
    rows = [_line(shown, rate) for shown in page.sequences]
    return el(
        "nav",
        el("table", el("thead", el("tr", heads)), el("tbody", rows), class_="cards") if rows else None,
        el("ul", [el("li", el("a", text, href=f"#{anchor}")) for anchor, text in links], class_="links")
        if links
        else None,
        aria_label="contents",
    )


_HEADS = ("sequence", "result", "frames", "rate", "duration", "findings")
_USUAL_RATE = Fraction(24)
"""Frame rate, in frames per second, from which the duration of a sequence is computed if no rate is stated."""


def _line(shown: Shown, rate: Fraction | None) -> Element:
    one = shown.inspection
    failed = worst_of(one) is Severity.ERROR
    first, last = one.sequence.files[0].number, one.sequence.files[-1].number
    frames = (last - first) / one.sequence.step + 1
    seconds = f"{float(frames / (rate or _USUAL_RATE)):.2f} s"
    cells = (
        el("strong", "FAIL" if failed else "PASS", class_="E" if failed else "pass"),
        sequence_range(one.sequence),
        "not stated" if rate is None else f"{frame_text(rate)} fps",
        f"{seconds} at {frame_text(_USUAL_RATE)} fps" if rate is None else seconds,
        found_words(one),
    )
    return el(
        "tr",
        el("th", sign(worst_of(one)), " ", el("a", sequence_title(one.sequence), href=f"#{shown.key}"), scope="row"),
        [el("td", cell, data_label=head) for head, cell in zip(_HEADS[1:], cells, strict=True)],
    )
