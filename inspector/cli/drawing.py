"""`meshqc picture`: draws a frame, a contact sheet or an animation, with the test grid or any texture."""

from __future__ import annotations

import sys
from collections.abc import Generator, Iterable, Iterator
from contextlib import closing
from fractions import Fraction
from itertools import pairwise

import numpy as np

from inspector.cli.command import Arguments, UsageError
from inspector.cli.commands.picture import PictureOptions
from inspector.cli.exit_codes import say
from inspector.cli.texture import one_series, requested, staged
from inspector.delivery.output_file import refuse_early, write_placed
from inspector.errors import MeshqcError, Refusal
from inspector.lettering.legibility import Shot
from inspector.lettering.maps_fit import MAP_SQUEEZE
from inspector.lettering.sequence_fit import SequenceFit, Stage, Wanted, display, fit_sequence
from inspector.lettering.still_pictures import Dress, draw_frames, fineness
from inspector.lettering.texture_fit import NoTexture
from inspector.names import Name
from inspector.picture.canvas import Picture
from inspector.picture.flashing import first_flash, light_of
from inspector.picture.grid import grid_of_aspect
from inspector.picture.image_files import read_picture
from inspector.picture.movie import ENDINGS, STREAMED, movie_bytes, require
from inspector.picture.png import png_bytes
from inspector.picture.sheet import Captioned, contact_sheet
from inspector.sequence.discovery.frame_ranges import frame_ranges
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.series import Series

_PICTURES_PIXELS = 1 << 27
"""Pixels of all pictures in one file, which are in memory together: 0.4 GB, and as much again in the encoder. 580
pictures of 640 x 360."""

_SIZES = {"one": (1920, 1080), "many": (480, 270), "animation": (640, 360)}
"""Width and height in pixels of each picture where none is stated."""

_COLUMNS = 4
_GRID_SIDE = 2048
_LETTER_WIDTH = 480
"""Width of a picture in pixels at which its caption grows by one pixel per dot."""

Row = list[Captioned]
"""One frame with each texture."""


def draw(arguments: Arguments[PictureOptions]) -> int:
    """Exit code 0."""
    options = arguments.options
    (destination,) = refuse_early([options.output], ENDINGS if options.animate else (".png",), arguments.scope)
    _refuse_combinations(options)
    series = one_series(arguments)
    indices = _chosen(series, options)
    kind = "animation" if options.animate else "one" if len(indices) * len(options.texture or [0]) == 1 else "many"
    wanted = requested(options, _SIZES[kind])
    _refuse_large(wanted, indices, options)
    with closing(_drawn(series, indices, wanted, options)) as drawn:
        if options.animate:
            content = _animation(series, indices, drawn, options)
        else:
            rows = list(drawn)
            content = png_bytes(
                rows[0][0].picture if kind == "one" else _sheet([one for row in rows for one in row], rows)
            )
    write_placed(destination, content)
    sys.stdout.write(f"{Name.from_path(options.output)}: {_frames(series, indices)} of {series.sequence.pattern}\n")
    return 0


def _refuse_combinations(options: PictureOptions) -> None:
    if options.plain and options.texture:
        raise UsageError("--plain draws no texture; leave out --texture")
    if not options.animate and (options.fps is not None or options.step is not None):
        raise UsageError("--fps and --step need --animate")


def _chosen(series: Series, options: PictureOptions) -> list[int]:
    """Indices of the frames to draw, rising. Raises MeshqcError for a stated one that can't be drawn."""
    there = [index for index in np.flatnonzero(series.usable).tolist() if series.facts[index].box is not None]
    if not there or series.reference_index is None:
        raise MeshqcError(f"{series.sequence.pattern}: no frame can be drawn")
    if options.frame:
        by_number = {series.facts[index].number: index for index in reversed(there)}
        missing = [number for number in options.frame if number not in by_number]
        if missing:
            raise MeshqcError(f"{series.sequence.pattern}: no readable frame {frame_ranges(missing)}")
        return sorted({by_number[number] for number in options.frame})
    if options.sheet:
        positions = np.linspace(0, len(there) - 1, min(options.sheet, len(there)))
        return [there[position] for position in positions.round().astype(int).tolist()]
    return there[:: options.step or 1] if options.animate else [series.reference_index]


def _refuse_large(wanted: Wanted, indices: list[int], options: PictureOptions) -> None:
    """All pictures of one call are in memory together, but for a movie that is written picture by picture."""
    if options.animate and options.output.suffix.lower() == STREAMED:
        require(STREAMED)
        return
    count = len(indices) * len(options.texture or [0])
    if count * wanted.view.width * wanted.view.height > _PICTURES_PIXELS:
        size = f"{wanted.view.width} x {wanted.view.height}"
        raise Refusal(f"{count:,} pictures of {size} are too many for one file; choose a smaller --picture or --step N")


def _drawn(series: Series, indices: list[int], wanted: Wanted, options: PictureOptions) -> Generator[Row]:
    """Each frame with each texture, drawn when it is asked for."""
    names = [f", {Name.from_path(path.name)}" for path in options.texture or []] or [""]
    with staged(series) as stage:
        fit = _fit(series, wanted, options, stage)
        shot = wanted.view.shot(series) if fit is None else fit.shot
        dresses = _dresses(fit, shot, options)
        _say_squeezed(fit, dresses, options)
        drawn = draw_frames(series, indices, shot, dresses, lambda done, of: stage("drawing", done, of))
        for index, pictures in drawn:
            yield [
                Captioned(picture, f"frame {frame_text(series.facts[index].number)}{name}")
                for picture, name in zip(pictures, names, strict=True)
            ]


def _fit(series: Series, wanted: Wanted, options: PictureOptions, stage: Stage) -> SequenceFit | None:
    """The texture fit, where the picture depends on it and there are UVs."""
    own_grid = not options.plain and not options.texture
    if series.reference_facts.faces_without_uvs == series.reference_facts.faces:
        if options.texture:
            raise MeshqcError(f"{series.sequence.pattern}: it has no UVs, so no texture can be shown")
        if own_grid:
            say(f"{series.sequence.pattern}: it has no UVs, so the surface is drawn plain")
        return None
    if wanted.view.side is not None and not own_grid and wanted.material is None:
        return None
    try:
        return fit_sequence(series, wanted, stage)
    except NoTexture:  # the UVs have no area
        if own_grid:
            say(f"{series.sequence.pattern}: the UVs have no area, so the surface is drawn plain")
        return None


def _dresses(fit: SequenceFit | None, shot: Shot, options: PictureOptions) -> list[Dress]:
    textures: list[Picture | None] = [None]
    if options.texture:
        longest = 2 * fineness(shot.width, shot.height) * max(shot.width, shot.height)
        textures = [read_picture(path, longest) for path in options.texture]
    elif fit is not None and not options.plain:
        textures = [grid_of_aspect(fit.material.wanted_aspect, _GRID_SIDE)]
    return [Dress(texture, options.wires, options.material) for texture in textures]


def _say_squeezed(fit: SequenceFit | None, dresses: list[Dress], options: PictureOptions) -> None:
    """Report textures that the surface shows squeezed, as far as it was measured."""
    for path, dress in zip(options.texture or (), dresses, strict=False):
        if fit is not None and dress.texture is not None:
            height, width = dress.texture.shape[:2]
            squeeze = width / height / fit.material.wanted_aspect
            if max(squeeze, 1.0 / squeeze) > MAP_SQUEEZE:
                side, factor = ("width", squeeze) if squeeze > 1.0 else ("height", 1.0 / squeeze)
                wanted = f"{fit.material.wanted_aspect:.3g} to 1"
                say(
                    f"caution: {Name.from_path(path.name)} is squeezed in {side} by {factor:.2f}; the surface of "
                    f"{display(fit.material.material)} wants {wanted}"
                )


def _sheet(pictures: list[Captioned], rows: list[Row]) -> Picture:
    """Frames one after the other, the textures of one frame side by side."""
    dresses = len(rows[0])
    scale = max(1, pictures[0].picture.shape[1] // _LETTER_WIDTH)
    return contact_sheet(pictures, columns=dresses * max(1, _COLUMNS // dresses), scale=scale)


def _animation(series: Series, indices: list[int], rows: Iterable[Row], options: PictureOptions) -> bytes:
    """Missing frames repeat the frame before them, so that the motion keeps its time."""
    step = options.step or 1
    rate = Fraction(options.fps or 24) / step
    numbers = [series.facts[index].number for index in indices]
    times = [max(1, round((b - a) / series.sequence.step / step)) for a, b in pairwise(numbers)]
    lights, captions = [], []

    def pictures() -> Iterator[Picture]:
        for row, time in zip(rows, [*times, 1], strict=True):
            picture = _sheet(row, [row])
            light = light_of(picture)
            for _ in range(time):
                lights.append(light)
                captions.append(row[0].caption.split(",")[0])
                yield picture

    content = movie_bytes(pictures(), rate, options.output.suffix.lower())
    flash = first_flash(lights, float(rate))
    if flash is not None:
        at, red = flash
        say(
            f"caution: from {captions[at]} on the picture flashes {'in red ' if red else ''}more than three times per "
            "second, which can harm people with photosensitive epilepsy; it may repeat without end"
        )
    return content


def _frames(series: Series, indices: list[int]) -> str:
    numbers = [series.facts[index].number for index in indices]
    return f"{'frame' if len(numbers) == 1 else 'frames'} {frame_ranges(numbers, series.sequence.step)}"
