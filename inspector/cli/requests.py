"""Interpret the options that `fit`, `template`, `picture` and `captions` share."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from inspector.cli.command import Arguments, UsageError
from inspector.cli.inspecting import measure
from inspector.cli.options import TextureOptions
from inspector.cli.streams import ProgressLine
from inspector.errors import MeshqcError
from inspector.lettering.sequence_fit import FitRequest, SequenceFit, Stage, display
from inspector.lettering.viewpoint import View, side_of, upright_of, view_under
from inspector.report.text import sequence_title
from inspector.sequence.series import Series
from inspector.surface.lettering_box import Rectangle


def requested(arguments: Arguments[TextureOptions], picture: tuple[int, int] | None = None) -> FitRequest:
    """Make a request for a texture fit. Delivery rules supply values for options that aren't given.

    `picture` is the width and height, in pixels, if `--picture` isn't given; None for the size from the rules.

    Raises:
        UsageError: The front axis is the up axis.
    """
    options = arguments.options
    stretch = {} if options.stretch is None else {"stretch": options.stretch}
    return FitRequest(
        view=_view(options, view_under(arguments.settings.rules), picture),
        density=options.density,
        fills=options.fill_width,
        material=options.material,
        rectangle=None if options.lettering_box is None else Rectangle(*options.lettering_box),
        captions=tuple(options.caption or ()),
        **stretch,
    )


def _view(options: TextureOptions, ruled: View, picture: tuple[int, int] | None) -> View:
    """Make a view from the options. `ruled` supplies values, from the delivery rules, for options that aren't given.

    `picture` is the default width and height, in pixels. If `picture` is None, the default is the size in `ruled`.

    Raises:
        UsageError: The front axis is the up axis.
    """
    upright = ruled.upright
    if options.up is not None or options.front is not None:
        try:
            upright = upright_of(options.up or upright.name, options.front)
        except ValueError as error:
            raise UsageError(f"--front {options.front}: {error}") from error
    side = side_of(options.side, upright) if isinstance(options.side, str) else options.side
    width, height = options.picture or picture or (ruled.width, ruled.height)
    return View(side, options.distance, options.fov, width, height, upright)


def one_series(arguments: Arguments[TextureOptions]) -> Series:
    """Measure the folder, and return the sequence given with `--sequence` or, without this option, the only sequence.

    Raises:
        MeshqcError: There is no sequence, no sequence matches, or several sequences match.
    """
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
        raise MeshqcError(f"there are several sequences; choose one with --sequence: {there}")
    raise MeshqcError(f"--sequence must name exactly one sequence; choose one of: {there}")


def one_material(fit: SequenceFit) -> None:
    """Raise MeshqcError if there is more than one material and `--material` isn't given."""
    there = [display(one.material) for one in fit.texture.materials]
    if fit.wanted.material is None and len(there) > 1:
        raise MeshqcError(f"there are several materials; choose one with --material: {', '.join(there)}")


def _names(series: Series) -> tuple[str, ...]:
    """Return the names by which `--sequence` finds a sequence.

    The first name is the text before the frame number in the file names, without separators at its end, or the name of
    the folder if there is no such text. The second name is the pattern of the file names. If the sequence is in a
    subfolder, the path of the subfolder precedes the pattern. Each name is returned in two forms: as it is in the file
    system, and as it is displayed.
    """
    sequence = series.sequence
    return sequence.name.text, sequence.name.display, sequence.key, sequence_title(sequence)


@contextmanager
def staged(series: Series) -> Iterator[Stage]:
    """Yield a function that shows, on stderr, the progress of work on a sequence."""
    with ProgressLine() as line:

        def show(doing: str, done: int, total: int) -> None:
            line.show(f"{series.sequence.pattern}: {doing}, {done:,} of {total:,}")

        yield show
