"""What the words of `meshqc fit`, `template` and `picture` ask for, and which sequence they mean."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager

from inspector.cli.arguments import Arguments
from inspector.cli.inspecting import measure
from inspector.cli.parser import UsageError
from inspector.cli.streams import ProgressLine
from inspector.errors import MeshqcError
from inspector.lettering.sequence_fit import SequenceFit, Stage, Wanted, display
from inspector.lettering.viewpoint import View, side_of
from inspector.report.text import sequence_title
from inspector.sequence.series import Series
from inspector.surface.lettering_box import Rectangle
from inspector.surface.text_direction import Direction, Upright

_AXES: dict[str, Direction] = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
_PICTURE = (1920, 1080)
_FRONTS = {"y": "z", "z": "-y"}
"""What looks to the front where an axis is up: right-handed, with x to the right (common practice, no source)."""


def wanted(options: Namespace) -> Wanted:
    """What is stated about texture, picture and lettering; options that a command lacks are at their defaults."""
    given = vars(options)
    stretch = {} if given.get("stretch") is None else {"stretch": given["stretch"]}
    rectangle = given.get("lettering_box")
    return Wanted(
        view=view(options),
        density=given.get("density"),
        fills=given.get("fills"),
        material=given.get("material"),
        rectangle=None if rectangle is None else Rectangle(*rectangle),
        captions=tuple(given.get("caption") or ()),
        **stretch,
    )


def view(options: Namespace) -> View:
    """What is stated about the picture. Raises UsageError for a front that points up."""
    front = options.front or _FRONTS[options.up]
    if front.lstrip("-") == options.up:
        raise UsageError(f"--front {front}: with {options.up} up the front looks along another axis")
    upright = Upright(_AXES[options.up], _axis(front))
    side = side_of(options.side, upright) if isinstance(options.side, str) else options.side
    width, height = options.picture or _PICTURE
    return View(side, options.distance, options.fov, width, height, upright)


def _axis(word: str) -> Direction:
    x, y, z = _AXES[word.lstrip("-")]
    sign = -1.0 if word.startswith("-") else 1.0
    return sign * x, sign * y, sign * z


def one_series(arguments: Arguments) -> Series:
    """The sequence that is meant. Raises MeshqcError if there are several and --sequence says none of them."""
    found = measure(arguments)
    named = arguments.options.sequence
    chosen = found if named is None else [one for one in found if named in _names(one)]
    if len(chosen) == 1:
        return chosen[0]
    shown = [one.sequence.name.display for one in found]
    alone = [
        name if shown.count(name) == 1 else sequence_title(one.sequence) for name, one in zip(shown, found, strict=True)
    ]
    there = ", ".join(alone)
    if named is None:
        raise MeshqcError(f"there are several sequences here; say which with --sequence: {there}")
    raise MeshqcError(f"--sequence: no sequence of that name alone; there are {there}")


def one_material(fit: SequenceFit) -> None:
    """Raises MeshqcError if there are several materials and --material says none."""
    there = [display(one.material) for one in fit.texture.materials]
    if fit.wanted.material is None and len(there) > 1:
        raise MeshqcError(f"there are several materials here; say which with --material: {', '.join(there)}")


def _names(series: Series) -> tuple[str, ...]:
    """What a sequence may be called: its name, or whole, as check does; as bytes of the file system or as shown."""
    sequence = series.sequence
    return sequence.name.text, sequence.name.display, sequence.key, sequence_title(sequence)


@contextmanager
def staged(series: Series) -> Iterator[Stage]:
    """Tells on stderr what is being done with a sequence."""
    with ProgressLine() as line:

        def show(doing: str, done: int, total: int) -> None:
            line.show(f"{series.sequence.pattern}: {doing}, {done:,} of {total:,}")

        yield show
