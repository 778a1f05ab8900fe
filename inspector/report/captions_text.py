"""Describe caption versions, and how readable they are, as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from inspector.arrays import Floats
from inspector.lettering.caption_reading import LETTER_SEEN, CaptionReading
from inspector.lettering.caption_versions import CaptionCase, pixel_box
from inspector.lettering.legibility import READ_PIXELS, READ_SEEN, Obstacle
from inspector.lettering.sequence_fit import SequenceFit, display
from inspector.names import Name, amount, counted, safe
from inspector.report.fit_text import LETTERS, READ, box_words, place_words, view_words
from inspector.report.letter_plot import letter_strip
from inspector.report.text import sequence_range, sequence_title
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.frame_ranges import frame_ranges
from inspector.sequence.discovery.settings import frame_text

_INDENT = "      "
_MOST_PARTS = 4  # maximum number of letters that are listed with their share


def captions_text(fit: SequenceFit, file: Name | None, cases: Sequence[CaptionCase], style: TextStyle) -> str:
    """Describe each caption version of a sequence, with the marks of the frames and the verdict."""
    lines = [style.strong(f"{sequence_title(fit.series.sequence)}  {sequence_range(fit.series.sequence)}")]
    if file is not None:
        lines.append(f"  {file}, {counted(len(cases), 'version')}")
    for case in cases:
        lines += _case(case, style)
    return "\n".join([*lines, ""]) + "\n"


def box_text(fit: SequenceFit, box: tuple[int, int, int, int], size: tuple[int, int], style: TextStyle) -> str:
    """Describe, in pixels and in UV coordinates, the box in which the files of existing artwork differ."""
    left, top, right, bottom = box
    words = (
        f"left {left}, top {top}, right {right}, bottom {bottom}, in pixels from the top left corner of textures of "
        f"{size[0]} x {size[1]} pixels"
    )
    if fit.rectangle is not None:
        words += f" ({box_words(fit.rectangle)}), on {region_words(fit)}"
    return "\n".join([*style.wrap(words, "artwork differs in the box "), ""])


def boxes_text(fit: SequenceFit, style: TextStyle) -> str:
    """Describe the boxes in which lettering is safe on a sequence without a captions file."""
    lines = [style.strong(f"{sequence_title(fit.series.sequence)}  {sequence_range(fit.series.sequence)}")]
    for area in fit.areas:
        if area.rectangle is not None:
            material = next(one for one in fit.texture.materials if one.material == area.region.material)
            size = material.pixels(fit.density)
            left, top, right, bottom = pixel_box(area.rectangle, size)
            words = (
                f"left {left}, top {top}, right {right}, bottom {bottom}, in pixels from the top left corner of a "
                f"texture of {size[0]} x {size[1]} pixels ({box_words(area.rectangle)})"
            )
            lines += style.wrap(words, f"  island {area.region.island} of {display(area.region.material)}: ", "    ")
    next_step = "no captions.toml beside the frames; add this file to put captions into the boxes above"
    lines += style.wrap(place_words(fit) if fit.rectangle is None else next_step, "  ")
    return "\n".join([*lines, ""])


def _case(case: CaptionCase, style: TextStyle) -> Iterator[str]:
    version = case.version
    yield style.strong(f"  {safe(version.name)}  {safe(' | '.join(version.texts))}")
    for label, text in figures(case):
        yield from style.wrap(text, f"    {label:10}", " " * 14)
    if case.reading is not None:
        reading = case.reading
        ends = frame_text(reading.seen.frames[0]), frame_text(reading.seen.frames[-1])
        strip = letter_strip("".join(letters(reading)), style.width - len(_INDENT), ends)
        yield from (_INDENT + line for line in strip)
        yield from style.wrap(key_words(reading), _INDENT)
    yield from style.wrap(verdict_words(case), "    verdict   ", " " * 14)


def figures(case: CaptionCase) -> Iterator[tuple[str, str]]:
    """Describe the known properties of a version, as pairs of a label and a description."""
    if case.fit is not None and case.box is not None and case.base is not None and case.fit.rectangle is not None:
        left, top, right, bottom = case.box
        width, height = case.base.size
        over = f"{width} x {height} pixels"
        over = f"{case.base.name}, {over}" if case.base.name else f"a texture of {over}"
        yield (
            "box",
            f"left {left}, top {top}, right {right}, bottom {bottom}, in pixels from the top left corner of {over} "
            f"({box_words(case.fit.rectangle)}), on {region_words(case.fit)}",
        )
        if case.base.profile:
            yield "profile", "the base map's ICC profile is kept; colours and contrast are stated in its colour space"
        if case.base.lost:
            yield "lost", "; ".join(case.base.lost)
    if case.lettered is None or case.size is None or case.reading is None:
        return
    lettered, reading = case.lettered, case.reading
    size = f"{case.size[0]} x {case.size[1]} pixels"
    yield "texture", f"{size}, capitals {amount(lettered.capital, 'pixel', '.0f')} high, {lettered.font.name}"
    yield (
        "picture",
        f"capitals {span(reading.seen.height, '.3g')} pixels high, {view_words(case.fit) if case.fit else ''}",
    )
    if np.isfinite(reading.contrast).any():
        worst = int(np.nanargmin(reading.contrast))
        yield (
            "contrast",
            f"{span(reading.contrast, '.2f')}:1; letters of this size need at least {reading.needed[worst]:g}:1",
        )
    else:
        seen = bool((reading.seen.seen > 0.0).any())
        why = "there is no base map under the letters" if seen else "the letters are never visible"
        yield "contrast", f"not judged: {why}"
    if words := _hidden_words(reading, case.fit):
        yield "letters", words


def _hidden_words(reading: CaptionReading, fit: SequenceFit | None) -> str:
    """Describe the letters that are at least partly hidden in a frame in which the version has to be readable; "" if
    there are none."""
    shares = np.where(reading.wanted[:, None], reading.by_letter, 1.0)
    hurt = np.flatnonzero((shares < READ_SEEN).any(axis=1))
    if not len(hurt):
        return ""
    worst = int(hurt[shares[hurt].mean(axis=1).argmin()])
    step = fit.series.sequence.step if fit is not None else None
    numbers = frame_ranges([reading.seen.frames[at] for at in hurt.tolist()], *([step] if step else []))
    return (
        f"partly hidden in {'frame' if len(hurt) == 1 else 'frames'} {numbers}; "
        f"frame {frame_text(reading.seen.frames[worst])}: {letters_words(reading, worst)}"
    )


def reads(reading: CaptionReading, at: int) -> str:
    """Return the texts of a version as they appear in a frame, with `_` for each letter that isn't visible."""
    lines = reading.letters(at)
    return " | ".join("".join("_" if share < LETTER_SEEN.value else one for one, share in line) for line in lines)


def letters_words(reading: CaptionReading, at: int) -> str:
    """Describe the letters that are hidden or only partly visible in a frame; "" if all letters are visible."""
    words = [f"reads {reads(reading, at)}"] if (reading.by_letter[at] < LETTER_SEEN.value).any() else []
    parts = [
        f"{letter} of {text} {share:.0%} seen"
        for text, line in zip(reading.texts, reading.letters(at), strict=True)
        for letter, share in line
        if LETTER_SEEN.value <= share < READ_SEEN
    ]
    more = [f"{counted(len(parts) - _MOST_PARTS, 'more letter')} partly visible"] if len(parts) > _MOST_PARTS else []
    return ", ".join([*words, *parts[:_MOST_PARTS], *more])


def letters(reading: CaptionReading) -> list[str]:
    """Return the mark of each frame: READ if the version is readable, otherwise the letter for the reason."""
    return [READ if one is None else LETTERS[one] for one in reading.obstacles()]


def frame_words(reading: CaptionReading, at: int) -> str:
    seen, obstacle = reading.seen, reading.obstacles()[at]
    words = ["readable" if obstacle is None else obstacle.value]
    if 0.0 < seen.seen[at] < 1.0 and (hidden := letters_words(reading, at)):
        words.append(safe(hidden))
    if np.isfinite(seen.height[at]):
        words.append(f"capitals {amount(seen.height[at], 'pixel', '.3g')} high")
    if np.isfinite(reading.contrast[at]):
        words.append(f"contrast {reading.contrast[at]:.2f}:1, needs {reading.needed[at]:g}:1")
    if 0.0 < seen.seen[at] < 1.0:
        words.append(f"{seen.seen[at]:.0%} seen")
    return ", ".join(words)


def key_words(reading: CaptionReading) -> str:
    """Explain the marks that occur, as in `R readable, M mirrored`."""
    obstacles = reading.obstacles()
    words = [f"{READ} readable"] if None in obstacles else []
    return ", ".join([*words, *(f"{LETTERS[one]} {one.value}" for one in Obstacle if one in obstacles)])


def verdict_words(case: CaptionCase) -> str:
    """State that a version is readable in its range of frames, or give the reason why it is not readable or does not
    fit."""
    if case.reading is None:
        return f"does not fit: {case.refusal}"
    reading = case.reading
    ends = [] if reading.frames is None else list(dict.fromkeys(map(frame_text, reading.frames)))
    wanted = f"the required {'frame' if len(ends) == 1 else 'frames'} {'-'.join(ends)}" if ends else "all frames"
    bad = reading.unreadable
    if not bad:
        return f"readable in {wanted}"
    causes = [
        one
        for number, one in zip(reading.seen.frames, reading.obstacles(), strict=True)
        if number in bad and one is not None
    ]
    if not causes:
        return f"unreadable: nothing was measured in {wanted}"
    step = case.fit.series.sequence.step if case.fit is not None else None
    if len(bad) == int(reading.wanted.sum()):
        where = f"all of {wanted}" if len(ends) > 1 else wanted
    else:
        where = f"{'frame' if len(bad) == 1 else 'frames'} {frame_ranges(bad, *([step] if step else []))}"
        where += "" if reading.frames is None else f" of {wanted}"
    worst = max(dict.fromkeys(causes), key=causes.count)
    needed = f" ({READ_PIXELS:g} pixels are needed)" if worst is Obstacle.SMALL else ""
    return f"unreadable in {where}: {worst.value}{needed}"


def region_words(fit: SequenceFit) -> str:
    """Name the island or the material that carries the lettering."""
    region = fit.region
    if region is None:
        return "no surface"
    return f"island {region.island}" if region.island is not None else display(region.material)


def span(values: Floats, form: str) -> str:
    """Format the range of the finite values, as in `118 to 123`, or as `118` if the minimum and the maximum have the
    same text; `0` if there are no finite values."""
    known = values[np.isfinite(values)]
    if not len(known):
        return "0"
    low, high = f"{known.min():{form}}", f"{known.max():{form}}"
    return low if low == high else f"{low} to {high}"
