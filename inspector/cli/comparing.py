"""Run `meshqc compare`: compare the frames of each sequence, or two whole exports."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from inspector.cli.command import Arguments, UsageError
from inspector.cli.commands.compare import CompareOptions
from inspector.cli.exit_codes import FAILED, FOUND, fail
from inspector.cli.inspecting import incomplete, inspect, no_sequence
from inspector.cli.next_steps import steps_after_compare
from inspector.cli.streams import ProgressLine, style_of
from inspector.errors import MeshqcError
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.formats.registry import by_ending
from inspector.inspection.export_change import export_changes
from inspector.names import safe
from inspector.report.difference_words import BLOCK, difference_text, same_words
from inspector.report.document import json_text
from inspector.report.export_change import export_document, export_text
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.discover import Discovery, FrameFile, discover
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.frame_ranges import frames_words, numbers_text
from inspector.sequence.discovery.receipt_marks import corrected_frames, read_marks
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.frame_difference import differences
from inspector.sequence.run.scan import load_frame

Pair = tuple[FrameFile, FrameFile]
"""A frame and the frame that it is compared with."""


def compare_folder(arguments: Arguments[CompareOptions]) -> int:
    """Print how frames differ from one frame of their sequence, or from their corrected versions.

    Returns:
        Exit code 0 (no difference), 1 (a difference, or a missing frame) or 2 (a frame can't be read, or there is no
        sequence).

    Raises:
        MeshqcError: A frame number or the folder of the corrected frames doesn't exist, or there is nothing to compare.
    """
    options = arguments.options
    discovery = discover(arguments.folder)
    if not discovery.sequences:
        return fail(no_sequence(discovery))
    _refuse_unknown(discovery, options)
    against, paired = _paired(discovery, options)
    if options.corrected is not None:
        _refuse_rearranged(options.corrected, [pair for _, pairs in paired for pair in pairs])
    if not paired:
        raise MeshqcError(f"nothing to compare: no sequence has both {against} and another chosen frame")
    style = style_of(sys.stdout, options.color)
    code = max(_compare(sequence, pairs, against, style) for sequence, pairs in paired)
    if options.corrected is not None and options.frame is None:
        compared = {there.path for _, pairs in paired for _, there in pairs}
        code = max(code, _print_added(options.corrected, compared, style))
    return code


def _print_added(out: Path, compared: Collection[Path], style: TextStyle) -> int:
    """Print the frames that a fix added to a delivery, and return 1 if there are any, otherwise 0."""
    root = Path(os.path.realpath(out))
    added = {root / path for path in read_marks(root).invented}.difference(compared)
    code = 0
    for sequence in discover(out).sequences if added else ():
        numbers = [file.number for file in sequence.files if Path(os.path.realpath(file.path)) in added]
        if numbers:
            words = f"{numbers_text(numbers)} added by a fix; absent from the source"
            print(*style.wrap(words, f"{sequence.pattern}: "), sep="\n")
            code = FOUND
    return code


def compare_exports(arguments: Arguments[CompareOptions]) -> int:
    """Print what changed from the previous export to this export.

    Returns:
        Exit code 0 (nothing got worse), 1 (something got worse) or 2 (a folder has no sequence).

    Raises:
        UsageError: `--frame` is also given.
    """
    options = arguments.options
    other = options.other
    assert other is not None
    if options.frame is not None:
        raise UsageError("--frame can't be combined with --with, which compares whole exports")
    after = inspect(arguments)
    before = inspect(replace(arguments, folder=other))
    for one in (after, before):
        if not one.inspections:
            return fail(incomplete(one) or no_sequence(one.discovery))
    with ProgressLine() as line:
        changes = export_changes(before, after, line.show)
    if options.json:
        sys.stdout.write(json_text(export_document(changes)))
    else:
        sys.stdout.write(export_text(changes, style_of(sys.stdout, options.color)))
        for step in steps_after_compare(arguments.folder, other, {one.sequence.key for one in after.inspections}):
            print(step)
    return FOUND if any(one.worse for one in changes) else 0


def _refuse_unknown(discovery: Discovery, options: CompareOptions) -> None:
    """Raise MeshqcError if a frame number or the folder of the corrected frames doesn't exist."""
    known = {file.number for sequence in discovery.sequences for file in sequence.files}
    asked = [*(options.frame or ()), *([] if options.against is None else [options.against])]
    for number in asked:
        if number not in known:
            raise MeshqcError(f"no sequence has frame {frame_text(number)}")
    if options.corrected is not None and not options.corrected.is_dir():
        raise MeshqcError(f"{safe(str(options.corrected))}: no such folder")


def _refuse_rearranged(out: Path, pairs: Sequence[Pair]) -> None:
    """Check that the frames of a delivery have the same vertices and faces, in the same order, as their sources.

    Raises:
        MeshqcError: The delivery is a scene file, or in a format that splits vertices or faces.
    """
    scenes = discover(out).animations
    if scenes and not any(os.path.lexists(there.path) for _, there in pairs):
        raise MeshqcError(
            f"{safe(scenes[0].name)} is a scene file, which `compare` can't read; write its frames to a folder with "
            "`unpack`, then compare the two folders with `compare --with`"
        )
    for here, there in pairs:
        form = by_ending().get(os.fsencode(there.path.suffix.lower()))
        if form is None or form is by_ending().get(os.fsencode(here.path.suffix.lower())):
            continue
        if not {Trait.POLYGONS, Trait.SHARED} <= form.keeps:
            raise MeshqcError(
                f"{safe(there.path.name)} can't be compared vertex by vertex with {safe(here.path.name)}, because the "
                f"vertices and faces of frames in {form.title} differ from those of the source; `fix` compared the "
                "two files when it wrote the delivery (see HANDOFF.txt)"
            )


def _compare(sequence: FrameSequence, pairs: Sequence[Pair], against: str, style: TextStyle) -> int:
    """Print the differences between the two frames of each pair, and return the exit code.

    Consecutive frames with the same differences are printed together.
    """
    print(f"{style.strong(str(sequence.pattern))} compared with {style.plain(against)}")
    code = 0
    with ProgressLine() as line:
        for (ended, lines), group in groupby(_compared(pairs, style, line), itemgetter(1, 2)):
            frames = frames_words([number for number, *_ in group], sequence).lstrip(", ")
            line.clear()
            print(*style.wrap(frames, "  "), *lines, sep="\n")
            code = max(code, ended)
    return code


def _compared(pairs: Sequence[Pair], style: TextStyle, line: ProgressLine) -> Iterator[tuple[Fraction, int, list[str]]]:
    """Yield, for each pair, the number of its first frame, the exit code, and lines that describe the differences."""
    load = lru_cache(maxsize=2)(
        lambda file: load_frame(file.path, file.place)
    )  # two, because all pairs may have the same second frame
    for here, there in pairs:
        line.show(f"comparing frame {frame_text(here.number)}")
        yield here.number, *_difference(here, there, load, style)


def _paired(discovery: Discovery, options: CompareOptions) -> tuple[str, list[tuple[FrameSequence, list[Pair]]]]:
    """Pair each frame with the frame that it is compared with.

    Returns:
        A description of what the frames are compared with; and the sequences that have pairs, each with its pairs.
    """
    out = options.corrected
    against = f"the corrected frames in {safe(str(out))}"
    if options.against is not None:
        against = f"frame {frame_text(options.against)}"
    found = []
    for sequence in discovery.sequences:
        here = [file for file in sequence.files if options.frame is None or file.number in options.frame]
        if out is None:
            others = [file for file in sequence.files if file.number == options.against][:1]
            pairs = [(file, other) for file in here for other in others if file is not other]
        else:
            there = corrected_frames(here, discovery.root, Path(os.path.realpath(out)))
            pairs = list(zip(here, there, strict=True))
        if pairs:
            found.append((sequence, pairs))
    return against, found


def _difference(
    here: FrameFile, there: FrameFile, load: Callable[[FrameFile], Frame], style: TextStyle
) -> tuple[int, list[str]]:
    if not os.path.lexists(there.path):
        return FOUND, ["    the frame to compare it with is missing"]
    try:
        found = differences(load(here), load(there))
    except MeshqcError as error:
        return FAILED, style.wrap(f"can't be read: {error}", "    ")
    if all(one.same for one in found):
        return 0, ["    = identical"]
    lines = []
    for one in found:
        if not one.same:
            lines += style.wrap(difference_text(one), f"    x {one.block:<{BLOCK}} ")
    if same := same_words(found):
        lines += style.wrap(same, f"    = {'the same':<{BLOCK}} ")
    return FOUND, lines
