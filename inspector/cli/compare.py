"""`meshqc compare`: what differs between two frames, or between frames and what was made of them."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from inspector.cli.arguments import Arguments
from inspector.cli.exit_codes import FAILED, FOUND, fail
from inspector.cli.inspecting import no_sequence
from inspector.cli.streams import ProgressLine, look_of
from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.names import safe
from inspector.report.difference_words import BLOCK, same_words, told
from inspector.report.text_style import Look
from inspector.sequence.discovery.discover import Discovery, FrameFile, discover
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.frame_ranges import frames_words
from inspector.sequence.discovery.receipt_marks import corrected_frames
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.frame_difference import differences
from inspector.sequence.run.scan import load_frame

Pair = tuple[FrameFile, FrameFile]
"""A frame here, and the one there that it is held against."""


def run(arguments: Arguments) -> int:
    """Exit code 0 (nothing differs), 1 (something does) or 2 (a frame can't be read)."""
    options = arguments.options
    discovery = discover(arguments.folder)
    if not discovery.sequences:
        return fail(no_sequence(discovery.root))
    _refuse_unknown(discovery, options)
    against, paired = _paired(discovery, options)
    if not paired:
        raise MeshqcError(f"nothing to compare: no other frame of the sequence with {against} is asked for")
    look = look_of(sys.stdout, options.color)
    return max(_compare(sequence, pairs, against, look) for sequence, pairs in paired)


def _refuse_unknown(discovery: Discovery, options: Namespace) -> None:
    """Raises MeshqcError for a number that no frame has, and for a folder that isn't there."""
    known = {file.number for one in discovery.sequences for file in one.files}
    asked = [*(options.frame or ()), *([] if options.against is None else [options.against])]
    for number in asked:
        if number not in known:
            raise MeshqcError(f"no frame here has the number {frame_text(number)}")
    if options.corrected is not None and not options.corrected.is_dir():
        raise MeshqcError(f"{safe(str(options.corrected))}: no such folder")


def _compare(sequence: FrameSequence, pairs: Sequence[Pair], against: str, look: Look) -> int:
    """Print what differs in a sequence, once for frames on end of which the same is told; the exit code."""
    print(f"{look.strong(str(sequence.pattern))} against {look.plain(against)}")
    code = 0
    with ProgressLine() as line:
        for (ended, lines), group in groupby(_told(pairs, look, line), itemgetter(1, 2)):
            frames = frames_words([number for number, *_ in group], sequence).lstrip(", ")
            line.clear()
            print(*look.wrap(frames, "  "), *lines, sep="\n")
            code = max(code, ended)
    return code


def _told(pairs: Sequence[Pair], look: Look, line: ProgressLine) -> Iterator[tuple[Fraction, int, list[str]]]:
    """Frame number, exit code, and lines about what differs."""
    load = lru_cache(maxsize=2)(lambda file: load_frame(file.path, file.place))  # two: one of them may be in each pair
    for here, there in pairs:
        line.show(f"comparing frame {frame_text(here.number)}")
        yield here.number, *_difference(here, there, load, look)


def _paired(discovery: Discovery, options: Namespace) -> tuple[str, list[tuple[FrameSequence, list[Pair]]]]:
    """Words for what is there, and what is compared of each sequence; none of one without such frames."""
    out = options.corrected
    against = f"frame {frame_text(options.against)}" if out is None else f"what was made of it in {safe(str(out))}"
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
    here: FrameFile, there: FrameFile, load: Callable[[FrameFile], Frame], look: Look
) -> tuple[int, list[str]]:
    """The exit code of a pair, and lines about what differs."""
    if not os.path.lexists(there.path):
        return FOUND, ["    not there"]
    try:
        found = differences(load(here), load(there))
    except MeshqcError as error:
        return FAILED, look.wrap(f"can't be read: {error}", "    ")
    if all(one.same for one in found):
        return 0, ["    = all the same"]
    lines = []
    for one in found:
        if not one.same:
            lines += look.wrap(told(one), f"    x {one.block:<{BLOCK}} ")
    if same := same_words(found):
        lines += look.wrap(same, f"    = {'the same':<{BLOCK}} ")
    return FOUND, lines
