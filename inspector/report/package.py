"""Make the files that a package contains in addition to the delivery."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace

import numpy as np

from inspector.lettering.legibility import Shot
from inspector.lettering.sequence_fit import display
from inspector.lettering.still_pictures import Appearance, closeup, draw_frames
from inspector.lettering.viewpoint import View
from inspector.names import Name, counted, safe
from inspector.picture.canvas import Picture
from inspector.picture.png import pdf_bytes, texture_png
from inspector.picture.sheet import GAP, Captioned, contact_sheet
from inspector.report.captions_text import verdict_words
from inspector.report.fit_text import wish_words
from inspector.report.html.gather import ReportPage, Shown
from inspector.report.html.page import html_text
from inspector.report.html.pictures import appearance_of, sheet_indices, strip_appearance
from inspector.report.text import found_words, sequence_range, sequence_title, verdict_text
from inspector.sequence.discovery.settings import frame_text

NOTE, PROOF, CAPTIONS = "HANDOFF.txt", "proof", "captions"
"""Names of the hand-off note, of the folder for the page and the proof sheet, and of the folder for caption
textures."""

PAGE_NAME, SHEET_NAME = f"{PROOF}/report.html", f"{PROOF}/sheet.pdf"

_SHEET = 12
"""Maximum number of frames on a page of the proof sheet: three rows of four frames."""
_ACROSS = 4
_WIDTH = (1920 - GAP) // _ACROSS - GAP
_LETTERS = 15

Progress = Callable[[str], None]
"""Progress callback, called with a description of the current stage."""


def package_files(
    name: Name, page: ReportPage, unit: str | None, progress: Progress, added: Collection[str] = ()
) -> dict[str, bytes]:
    """Make the files that accompany the delivery. Return their contents by their paths in the package.

    Args:
        name: Name of the delivered folder.
        page: The contents of the page about the delivery, including the caption versions.
        unit: The unit of the scene; None if it wasn't stated.
        progress: Called with a description of each stage.
        added: Paths of further files in the package, which the hand-off note also lists.
    """
    progress("drawing the page")
    files = {PAGE_NAME: html_text(page).encode()}
    progress("drawing the proof sheet")
    if pages := list(_pages(page)):
        files[SHEET_NAME] = pdf_bytes(pages)
    for shown in page.sequences:
        for strip in shown.strips:
            case = strip.case
            if case.lettered is not None:
                profile = case.base.profile if case.base else b""
                files[f"{CAPTIONS}/{case.version.name}.png"] = texture_png(case.lettered.rendered.pixels, profile)
    files[NOTE] = _note(name, page, unit, sorted([*files, *added]))
    return files


def _pages(page: ReportPage) -> Iterator[Picture]:
    """Draw the pages of the proof sheet: for each sequence with pictures, a page of frames, and a page of close-ups for
    each caption version that fits."""
    for shown in page.sequences:
        if not shown.pictures:
            continue
        series = shown.inspection.series
        indices = sheet_indices(series, _SHEET)
        fit = None if shown.fit is None else shown.fit.fit
        view = View(width=_WIDTH, height=round(_WIDTH * 9 / 16))
        shot = view.shot(series, shown.side)
        title = f"{shown.title}, {sequence_range(series.sequence)}"
        yield _page(shown, indices, shot, appearance_of(shown.inspection, fit)[0], title)
        for strip in shown.strips:
            case = strip.case
            if case.fit is None or case.lettered is None:
                continue
            near = replace(closeup(case.fit), width=shot.width, height=shot.height)
            words = f"{title}: {case.version.name}, {verdict_words(case)}"
            if asked := sheet_indices(series, _SHEET, case.version.frames):
                yield _page(shown, asked, near, strip_appearance(shown.inspection, case), words)


def _page(shown: Shown, indices: list[int], shot: Shot, appearance: Appearance, title: str) -> Picture:
    series = shown.inspection.series
    pictures = [
        Captioned(drawn[0], f"frame {frame_text(series.facts[index].number)}")
        for index, drawn in draw_frames(series, indices, shot, [appearance])
    ]
    return contact_sheet(pictures, columns=_ACROSS, size=_LETTERS, title=title)


def _note(name: Name, page: ReportPage, unit: str | None, files: list[str]) -> bytes:
    """Write the hand-off note of the package in UTF-8, with names that are safe on any screen."""
    lines = ["Hand-off note of the package", "", *_about(page, unit), ""]
    for shown in page.sequences:
        lines += [*_sequence(shown), ""]
    lines += ["In this package", "---------------", f"{name}/: the delivery, with its own HANDOFF.txt"]
    lines += [f"{safe(path)}: {_what(path)}" for path in files]
    lines += ["SHA256SUMS: the digests of all files", ""]
    lines += ["Check the copy: sha256sum -c SHA256SUMS", f"Check the delivery: meshqc verify {name}"]
    return ("\n".join(lines) + "\n").encode("utf-8", "backslashreplace")


def _what(path: str) -> str:
    known = {PAGE_NAME: "the inspection as an HTML page", SHEET_NAME: "frames and caption versions, for printing"}
    return known.get(path, "texture of a caption version" if path.startswith(f"{CAPTIONS}/") else "added by hand")


def _about(page: ReportPage, unit: str | None) -> Iterator[str]:
    rate = page.result.settings.rate
    yield f"Verdict: {verdict_text(page.result)}."
    yield f"Frame rate: {frame_text(rate)} fps." if rate else "Frame rate: not stated."
    yield (
        f"One unit of the scene: 1 {unit}."
        if unit
        else "One unit of the scene: not stated; the format records no unit."
    )


def _sequence(shown: Shown) -> Iterator[str]:
    one, series = shown.inspection, shown.inspection.series
    title = f"Sequence {sequence_title(one.sequence)}"
    yield from (title, "-" * len(title))
    yield f"Range: {sequence_range(one.sequence)}; {found_words(one)}."
    if series.reference_index is not None:
        low, high = series.boxes[series.reference_index]
        size = " x ".join(f"{value:.6g}" for value in np.asarray(high - low).tolist())
        yield f"Size: {size} units along x, y, z in frame {frame_text(series.reference_facts.number)}."
    if shown.fit is not None:
        fit = shown.fit.fit
        for material in fit.texture.materials:
            wide, tall = material.pixels(fit.density)
            yield (
                f"Texture of {display(material.material)}: aspect ratio {material.wanted_aspect:.4g} to 1, {wide} x "
                f"{tall} pixels: {wish_words(fit)}."
            )
        for found in shown.fit.maps:
            size = "size not known" if found.size is None else f"{found.size[0]} x {found.size[1]} pixels"
            yield f"Map {found.map.map.name} ({found.map.map.statement}): {size}."
    if "captions" in shown.why:
        yield f"Captions: not drawn ({shown.why['captions']})."
    if shown.strips:
        yield f"Captions: {counted(len(shown.strips), 'version')}."
    for strip in shown.strips:
        yield f"  {strip.case.version.name}: {safe(' | '.join(strip.case.version.texts))}: {verdict_words(strip.case)}."
