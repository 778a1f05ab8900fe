"""The page's section about one sequence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.registry import check_by_id
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import Inspection
from inspector.lettering.sequence_fit import display
from inspector.lettering.texture_fit import RegionFit
from inspector.report.captions_text import verdict_words
from inspector.report.fit_text import (
    caption_words,
    figures,
    islands,
    key_words,
    means_words,
    place_words,
    read_words,
)
from inspector.report.frame_rows import NOTHING, severity_of
from inspector.report.html.columns import PageColumn, columns_of
from inspector.report.html.elements import Content, Element, el, empty, picture, terms
from inspector.report.html.gather import Shown
from inspector.report.html.pictures import HEIGHT, WIDTH
from inspector.report.html.plots import Axis, axis_of, plot
from inspector.report.text import facts_text, reasons_text, sequence_range
from inspector.sequence.discovery.frame_ranges import frames_words
from inspector.sequence.discovery.settings import frame_text

_PIECES = 48
"""Maximum number of letters in the overview. This many letters fit in one row and are wide enough to be tapped."""


_LEGEND = "each letter shows the worst finding in one part of the sequence: {}; a dot means no finding".format(
    ", ".join(f"{severity.sign} {severity.word}" for severity in reversed(Severity))
)


def sign(severity: Severity | None) -> Element | None:
    """Make the letter of a severity, hidden from screen readers because the words beside it mean the same."""
    return None if severity is None else el("span", severity.sign, class_=f"sign {severity.sign}", aria_hidden="true")


def sequence_section(shown: Shown) -> Element:
    one, key = shown.inspection, shown.key
    parts: list[tuple[str, Content]] = [
        ("Findings", _findings(shown)),
        ("Frame by frame", _plots(shown)),
        ("Contact sheet", _sheet(shown)),
        ("Caption versions", list(_captions(shown))),
        ("Texture and lettering", list(_fit(shown))),
        ("Skipped checks", list(_unchecked(one.verdict.skipped))),
        ("Checks that failed", list(_unchecked(one.verdict.failed))),
    ]
    there = [(f"{key}-part{at}", title, content) for at, (title, content) in enumerate(parts, 1) if not empty(content)]
    links = [el("li", el("a", title.lower(), href=f"#{anchor}")) for anchor, title, _ in there]
    return el(
        "section",
        el("h2", shown.title, id=key, tabindex="-1"),
        el("p", f"{sequence_range(one.sequence)}; {facts_text(one)}"),
        _overview(shown),
        el("p", _LEGEND, class_="quiet"),
        el("nav", el("ul", links, class_="links"), aria_label=f"parts of {shown.title}"),
        [[el("h3", title, id=anchor, tabindex="-1"), content] for anchor, title, content in there],
        aria_labelledby=key,
        class_="sequence",
    )


def _overview(shown: Shown) -> Element:
    """Make the overview: one letter per part of the sequence, with a link to the worst finding in this part."""
    view = shown.view
    rows = len(view.rows)
    pieces = min(rows, _PIECES)
    starts = np.arange(pieces) * rows // pieces
    worst = np.maximum.reduceat(view.worst, starts).tolist()
    ends = [*starts[1:].tolist(), rows]
    letters = []
    for start, end, value in zip(starts.tolist(), ends, worst, strict=True):
        frames = _piece_words(shown, start, end)
        if value == NOTHING:
            letters.append(el("li", el("span", ".", title=frames)))
            continue
        row = start + int(np.argmax(view.worst[start:end]))
        at = view.on_row(row)[0]
        finding = view.findings[at]
        words = f"{finding.severity.sign}: {frames}, {finding.severity.word}, {check_by_id(finding.check).title}"
        link = el(
            "a",
            finding.severity.sign,
            href=f"#{shown.key}-f{at + 1}",
            aria_label=words,
            title=words,
            data_row=str(row),
            class_=finding.severity.sign,
        )
        letters.append(el("li", link))
    first, last = (frame_text(view.rows[at].number) for at in (0, -1))
    label = f"overview of {shown.title}, frames {first} to {last}"
    return el("ol", letters, class_="overview", aria_label=label)


def _piece_words(shown: Shown, start: int, end: int) -> str:
    first, last = (frame_text(shown.view.rows[at].number) for at in (start, end - 1))
    return f"frame {first}" if first == last else f"frames {first} to {last}"


def _findings(shown: Shown) -> Element:
    findings = shown.inspection.findings
    if not findings:
        return el("p", "nothing found")
    anchors: dict[str, str] = {}
    articles = []
    for number, finding in enumerate(findings, 1):
        anchor = f"{shown.key}-f{number}"
        articles.append(_finding(shown.inspection, finding, anchor, anchors.setdefault(finding.check, anchor)))
    return el("div", articles, class_="findings")


def _finding(one: Inspection, finding: Finding, anchor: str, explained: str) -> Element:
    """Make the article about one finding. `explained` is the anchor of the article that contains the rationale: the
    article about the first finding of the same check."""
    check = check_by_id(finding.check)
    severity = finding.severity
    why = check.rationale
    rationale = [("what it is", why.what), ("you would see", why.after_import), ("what to do", why.what_to_do)]
    above = [("what it is", el("a", "see above", href=f"#{explained}"))]
    return el(
        "article",
        el(
            "h4",
            sign(severity),
            f" {severity.word}: {check.title}",
            frames_words(finding.frames, one.sequence),
            " ",
            el("code", finding.check),
            id=anchor,
            tabindex="-1",
        ),
        el("p", finding.message),
        terms(
            [
                ("where", [el("div", _place(place)) for place in finding.where]),
                *(rationale if anchor == explained else above),
                ("rule", finding.reason),
                ("fixes", ", ".join(f"{fix} ({fix_by_id(fix).kind.value})" for fix in finding.fixes)),
            ]
        ),
        class_=f"finding {severity.sign}",
        aria_labelledby=anchor,
    )


def _place(place: Where) -> str:
    line = "" if place.line is None else f":{place.line}"
    return f"{place.file}{line}" + (f", {place.element}" if place.element else "")


def _plots(shown: Shown) -> Element:
    """Make the plots, which share a cursor, and the table of all values."""
    key, view = shown.key, shown.view
    columns, axis = columns_of(shown), axis_of(view)
    slider = el(
        "div",
        el("label", "frame", for_=f"{key}-at"),
        el("input", type="range", id=f"{key}-at", min="0", max=str(len(view.rows) - 1), value="0"),
        el("p", class_="readout"),
        class_="cursor-bar",
        hidden="",
    )
    return el(
        "div",
        slider,
        el("div", [plot(column, 2 + at, axis, view, key) for at, column in enumerate(columns)], class_="plots"),
        el("details", el("summary", "All frames as a table"), frame_table(shown, columns, axis)),
        data_frames=key,
    )


def _sheet(shown: Shown) -> Content:
    if not shown.pictures:
        return el("p", f"no pictures: {shown.why.get('pictures', 'no frame can be drawn')}", class_="quiet")
    view = shown.view
    row_of = {row.at: at for at, row in enumerate(view.rows)}
    tiles = []
    for index, png in shown.pictures.items():
        row = row_of[index]
        severity = severity_of(int(view.worst[row]))
        frame = f"frame {frame_text(view.rows[row].number)}"
        caption: Content = [sign(severity), f" {frame}", "" if severity is None else f": {severity.word}"]
        tiles.append(picture(png, f"{frame} of {shown.title}", caption, size=(WIDTH, HEIGHT)))
    return [el("p", f"frames {shown.appearance}", class_="quiet"), el("div", tiles, class_="sheet")]


def _captions(shown: Shown) -> Iterator[Element]:
    """Show each caption version with its verdict and with close-ups from a few frames."""
    if "captions" in shown.why:
        yield el("p", f"not drawn: {shown.why['captions']}", class_="quiet")
    for strip in shown.strips:
        version = strip.case.version
        mark = sign(Severity.WARNING if strip.case.unreadable else None)
        yield el("h4", mark, f" {version.name}: ", " | ".join(version.texts))
        yield el("p", verdict_words(strip.case))
        tiles = [
            picture(png, f"version {version.name} in frame {frame}", f"frame {frame}", size=(WIDTH, HEIGHT))
            for frame, png in strip.pictures.items()
        ]
        if tiles:
            yield el("div", tiles, class_="strip")


def _maps(shown: Shown, material: RegionFit) -> Element | None:
    """Make a table of a material's maps, with the size and aspect ratio that the surface needs; None without maps."""
    report = shown.fit
    assert report is not None
    wide, high = material.pixels(report.fit.density)
    rows = []
    for place, one in enumerate(report.maps):
        if one.map.map.material != material.material:
            continue
        name = f"{one.map.map.name} ({one.map.map.statement})"
        small = shown.thumbnails.get(place)
        size = "not known" if one.size is None else f"{one.size[0]} x {one.size[1]}"
        aspect = "" if one.size is None else f"{one.size[0] / one.size[1]:.4g} to 1"
        rows.append(
            el(
                "tr",
                el("td", None if small is None else picture(small, f"the texture {one.map.map.name}")),
                el("th", name, scope="row"),
                el("td", size, data_label="pixels"),
                el("td", aspect, data_label="aspect"),
                el("td", f"{wide} x {high}, {material.wanted_aspect:.4g} to 1", data_label="wanted"),
                el("td", "; ".join(one.verdicts) or one.unknown or "fits", data_label="verdict"),
            )
        )
    if not rows:
        return None
    heads = [el("th", head, scope="col") for head in ("texture", "map", "pixels", "aspect", "wanted", "verdict")]
    return el("table", el("thead", el("tr", heads)), el("tbody", rows), class_="cards maps")


def _fit(shown: Shown) -> Iterator[Element]:
    report = shown.fit
    if report is None:
        yield el("p", f"not measured: {shown.why.get('fit', '')}", class_="quiet")
        return
    fit, series = report.fit, shown.inspection.series
    if len(fit.series.facts) < len(series.facts):
        yield el("p", f"measured on {len(fit.series.facts):,} evenly spaced frames of {len(series.facts):,}")
    for material in fit.texture.materials:
        mine = [(f"island {number}", words) for number, words in islands(fit, material)]
        yield el("h4", display(material.material))
        yield terms([*figures(fit, material), *mine])
        if (maps := _maps(shown, material)) is not None:
            yield maps
    yield el("h4", "Lettering")
    pairs = [("box", place_words(fit))]
    if report.lettering is not None:
        seen, captions = report.lettering
        pairs += [("letters", key_words(seen)), ("worst", means_words(seen))]
        pairs += [("readable in", read_words(fit, seen, 1.0))]
        pairs += [("caption", caption_words(fit, seen, caption)) for caption in captions]
    yield terms(pairs)


def _unchecked(pairs: Sequence[tuple[str, str]]) -> Iterator[Element]:
    """List checks that were skipped or failed, grouped by reason."""
    if reasons := reasons_text(pairs, named=len(pairs)):
        yield el("ul", [el("li", reason) for reason in reasons])


def frame_table(shown: Shown, columns: Sequence[PageColumn], axis: Axis) -> Element:
    """Make the table of all frames: one row per frame, with frame number, file, values and findings. The attribute
    `data-x` of a row is the horizontal position of its frame in the plots."""
    heads = ["frame", "file", *(column.title for column in columns), "findings"]
    rows = [_row(shown, columns, row, x) for row, x in enumerate(axis.x.tolist())]
    table = el(
        "table",
        el("thead", el("tr", [el("th", head, scope="col") for head in heads])),
        el("tbody", rows),
    )
    label = f"all frames of {shown.title}"
    return el("div", table, class_="wide", tabindex="0", role="group", aria_label=label)


def _row(shown: Shown, columns: Sequence[PageColumn], row: int, x: float) -> Element:
    view = shown.view
    at = view.rows[row].at
    number = frame_text(view.rows[row].number)
    file = "no file" if at is None else shown.inspection.context.file_name(at).display
    cells = [el("td", _cell(column, row)) for column in columns]
    head = el("th", number, scope="row")
    return el("tr", head, el("td", file), cells, el("td", list(_links(shown, row))), data_x=f"{x:.1f}")


def _cell(column: PageColumn, row: int) -> Element | str:
    """Make the content of a cell: the value as shown and, for programs, the value with all digits."""
    value = float(column.values[row])
    return el("data", column.text(row), value=repr(value)) if np.isfinite(value) else column.text(row)


def _links(shown: Shown, row: int) -> Iterator[Element | str]:
    for place, at in enumerate(shown.view.on_row(row)):
        finding = shown.view.findings[at]
        said = f"{finding.severity.sign} {check_by_id(finding.check).title}"
        yield "; " if place else ""
        yield el("a", said, href=f"#{shown.key}-f{at + 1}")
