"""`meshqc unpack`: frames out of a file that holds a whole animation; without OUT, what is in it."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from inspector.cli.arguments import Arguments
from inspector.cli.check import tell
from inspector.cli.html_page import refuse_page_early
from inspector.cli.streams import ProgressLine
from inspector.delivery.destination import new_place
from inspector.delivery.unpack import Wanted, unpack
from inspector.errors import MeshqcError
from inspector.formats.format import Animation
from inspector.names import Name, safe
from inspector.sequence.discovery.animations import open_animation, summary
from inspector.sequence.discovery.settings import Settings
from inspector.units import METRES


def run(arguments: Arguments) -> int:
    """Exit code of `check` on what was written; 0 for a list."""
    options, path = arguments.options, arguments.folder
    if not path.is_file():
        what = "a folder; name the file in it" if path.is_dir() else "no such file"
        raise MeshqcError(f"{Name.from_path(path)}: {what}")
    refuse_page_early(arguments)
    if options.output is not None:
        new_place(options.output)
    animation = open_animation(path)
    talk = sys.stdout if options.output is None else sys.stderr
    talk.write("".join(f"{line}\n" for line in _about(path.name, animation, options)))
    if options.output is None:
        sys.stdout.write("".join(f"  {safe(mesh)}\n" for mesh in animation.meshes))
        return 0
    wanted = Wanted(tuple(options.mesh), _chosen(animation, options), _scale(animation, options), not options.keep_axis)
    with ProgressLine() as line:
        result = unpack(
            path, animation, wanted, options.output, lambda done, of: line.show(f"unpacking: {done:,} of {of:,}")
        )
    return tell(result, replace(arguments, folder=options.output, settings=Settings()))


def _about(name: str, animation: Animation, options: Namespace) -> Iterator[str]:
    """What is in the file, and every constant that is put on it."""
    yield f"{safe(name)}: {summary(animation)}, {float(animation.rate):g} frames a second"
    unit = f"1 unit is {animation.metres:g} m"
    scale = _scale(animation, options)
    yield unit + (f"; all frames times {scale:g}, so that it is 1 {options.unit}" if scale != 1.0 else "")
    if animation.up != "y":
        kept = "left so" if options.keep_axis else "all frames are turned so that y is up"
        yield f"{animation.up} is up: {kept}"
    yield from (f"note: {note}" for note in animation.notes)


def _scale(animation: Animation, options: Namespace) -> float:
    return 1.0 if options.unit is None else float(Fraction(repr(animation.metres)) / METRES[options.unit])


def _chosen(animation: Animation, options: Namespace) -> tuple[Fraction, ...]:
    """Whole frame numbers: those of --frames or of the file, every --step-th. Raises MeshqcError if there is none."""
    first, last = options.frames or (animation.frames[:1] + animation.frames[-1:]) or (1, 0)
    known = set(animation.frames)
    numbers = [Fraction(number) for number in range(int(first), int(last) + 1)]
    chosen = tuple(number for number in numbers if number in known)[:: options.step]
    if not chosen:
        raise MeshqcError(f"none of these frames is in the file ({summary(animation)})")
    if chosen[0] < 0:
        raise MeshqcError("frames below 0 can't be told from numbers with a hyphen; choose --frames from 0 on")
    return chosen
