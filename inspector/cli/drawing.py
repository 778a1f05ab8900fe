"""Run `meshqc picture`: draw a frame, a contact sheet or an animation, with the test grid or any texture."""

from __future__ import annotations

import sys
from collections.abc import Generator, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import ceil, sqrt

import numpy as np

from inspector.cli.command import Arguments, UsageError
from inspector.cli.commands.picture import PictureOptions
from inspector.cli.exit_codes import say
from inspector.cli.requests import one_series, requested, staged
from inspector.delivery.output_file import refuse_early, write_placed
from inspector.errors import MeshqcError, Refusal
from inspector.lettering.legibility import Shot
from inspector.lettering.maps_fit import MAP_SQUEEZE, judge_maps
from inspector.lettering.sequence_fit import FitRequest, SequenceFit, Stage, display, fit_sequence, thinned
from inspector.lettering.still_pictures import Appearance, closeup, draw_frames
from inspector.lettering.texture_fit import NoTexture, RegionFit
from inspector.lettering.viewpoint import view_under
from inspector.names import Name
from inspector.picture.canvas import Picture
from inspector.picture.flashing import first_flash, light_of
from inspector.picture.grid import grid_of_aspect
from inspector.picture.image_files import read_picture
from inspector.picture.movie import ENDINGS, movie_bytes, require
from inspector.picture.png import pdf_bytes, png_bytes
from inspector.picture.sheet import GAP, Captioned, contact_sheet, side_by_side
from inspector.picture.smooth import fineness
from inspector.sequence.discovery.frame_ranges import frame_ranges, numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.materials.colour_maps import MaterialMaps
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.series import Series

_PICTURES_PIXELS = 1 << 27
"""Maximum total number of pixels in the pictures of a contact sheet. All pictures are in memory together: they take 0.4
GB, and the encoder takes as much again.
"""

_PAGE, _MOVIE, _MOVIES = (1920, 1080), (640, 360), (1280, 720)
"""Default width and height, in pixels, of three kinds of output: a page of a contact sheet, an animation with one
texture, and an animation with several textures. All have an aspect ratio of 16 to 9.
"""

_ROW, _ROWS = 6, 6
"""Maximum number of columns (frames) and of rows (textures) on a page that shows more than one texture. With more
columns or rows, the pictures would be too small to judge, so each texture gets its own page instead."""

_FIT_FRAMES = 24
"""Maximum number of frames, evenly spaced, in which the fit of texture and lettering is measured before a picture is
drawn.
"""

_LIGHT_ROWS = 90
"""A picture is reduced before flashes are judged. Its shorter side keeps at least this length, in pixels."""

_GRID_SIDE = 2048
_LETTERS = 26
"""Ratio of the height of a picture to the font size of the text below it."""

Row = list[Captioned]
"""The pictures of one frame, one picture per texture."""


@dataclass(frozen=True)
class _Layout:
    """The arrangement of pictures on a page, or in each frame of an animation.

    Attributes:
        size: Width and height of each picture, in pixels.
        columns: Number of pictures per row.
        paged: Whether each texture has its own page.
    """

    size: tuple[int, int]
    columns: int
    paged: bool = False


_STILL = (".png", ".pdf")


def draw(arguments: Arguments[PictureOptions]) -> int:
    """Draw the frames, write the file, and return exit code 0.

    Raises:
        UsageError: The options contradict each other.
        Refusal: The output file exists, the pictures have too many pixels, or a PNG would need more than one page.
        MeshqcError: A frame can't be drawn, or a file can't be read or written.
    """
    options = arguments.options
    endings = ENDINGS if options.animate else _STILL
    if not options.animate and options.output.suffix.lower() in set(ENDINGS) - set(_STILL):
        raise UsageError(f"--output {Name.from_path(options.output)}: this is a format for movies; add --animate")
    (destination,) = refuse_early([options.output], endings, arguments.scope)
    _refuse_combinations(options)
    series = one_series(arguments)
    indices = _chosen(series, options)
    ruled = view_under(arguments.settings.rules)
    layout = _layout(len(indices), options, (ruled.width, ruled.height))
    wanted = requested(arguments, layout.size)
    layout = replace(layout, size=(wanted.view.width, wanted.view.height))
    _refuse_large(wanted, indices, options)
    with closing(_drawn(series, indices, wanted, arguments)) as drawn:
        if options.animate:
            content = _animation(series, indices, drawn, layout, options)
        else:
            content = _still(series, indices, list(drawn), layout, options)
    write_placed(destination, content)
    sys.stdout.write(f"{Name.from_path(options.output)}: {_frames(series, indices)} of {series.sequence.pattern}\n")
    return 0


def _layout(frames: int, options: PictureOptions, one: tuple[int, int]) -> _Layout:
    """Arrange the pictures.

    A page with several textures has a column for each frame and a row for each texture. Other pages and animations have
    about as many rows as columns. `one` is the size of a single picture, in pixels.
    """
    textures = len(options.texture or [0])
    if options.animate:
        columns = ceil(sqrt(textures))
        width, height = _MOVIE if textures == 1 else _MOVIES
        return _Layout((width // columns, height // ceil(textures / columns)), columns)
    if frames * textures == 1:
        return _Layout(one, 1)
    paged = textures > 1 and (frames > _ROW or textures > _ROWS)
    columns = ceil(sqrt(frames)) if paged or textures == 1 else frames
    width = (_PAGE[0] - GAP) // columns - GAP
    return _Layout((width, round(width * 9 / 16)), columns, paged)


def _refuse_combinations(options: PictureOptions) -> None:
    if options.plain and options.texture:
        raise UsageError("--plain draws no texture; leave out --texture")
    if options.plain and (options.maps or options.normal_map):
        raise UsageError("--plain draws no maps; leave out --maps and --normal-map")
    if not options.animate and (options.fps is not None or options.step is not None):
        raise UsageError("--fps and --step need --animate")


def _chosen(series: Series, options: PictureOptions) -> list[int]:
    """Choose the frames to draw, as ascending indices of `series.facts`.

    Raises:
        MeshqcError: A frame given with `--frame` can't be drawn, or no frame can be drawn.
    """
    there = [index for index in np.flatnonzero(series.usable).tolist() if series.facts[index].box is not None]
    if not there or series.reference_index is None:
        raise MeshqcError(f"{series.sequence.pattern}: no frame can be drawn")
    if options.frame:
        by_number = {series.facts[index].number: index for index in reversed(there)}
        missing = [number for number in options.frame if number not in by_number]
        if missing:
            raise MeshqcError(
                f"{series.sequence.pattern}: {numbers_text(missing)} can't be drawn: missing, unreadable or empty"
            )
        return sorted({by_number[number] for number in options.frame})
    if options.sheet:
        positions = np.linspace(0, len(there) - 1, min(options.sheet, len(there)))
        return [there[position] for position in positions.round().astype(int).tolist()]
    return there[:: options.step or 1] if options.animate else [series.reference_index]


def _refuse_large(wanted: FitRequest, indices: list[int], options: PictureOptions) -> None:
    """Check that still pictures fit in memory together, or that the format of the animation can be written.

    Raises:
        Refusal: The still pictures have too many pixels.
        MeshqcError: The format of the animation needs a package that is not installed.
    """
    if options.animate:
        require(options.output.suffix.lower())
        return
    count = len(indices) * len(options.texture or [0])
    if count * wanted.view.width * wanted.view.height > _PICTURES_PIXELS:
        size = f"{wanted.view.width} x {wanted.view.height} pixels"
        raise Refusal(
            f"{count:,} pictures of {size} are too many for one file; choose a smaller --picture or fewer frames"
        )


def _drawn(
    series: Series, indices: list[int], wanted: FitRequest, arguments: Arguments[PictureOptions]
) -> Generator[Row]:
    """For each frame, yield one picture per texture. A frame is drawn only when the caller asks for it."""
    options = arguments.options
    names = [f", {Name.from_path(path.name)}" for path in options.texture or []] or [""]
    with staged(series) as stage:
        fit = _fit(series, wanted, options, stage)
        if fit is None:
            shot = wanted.view.shot(series)
        elif options.closeup:
            shot = closeup(replace(fit, series=series))
        else:
            shot = wanted.view.shot(series, -fit.shot.camera.axes[2])
        appearances = _appearances(fit, shot, arguments)
        _say_squeezed(fit, appearances, arguments)
        drawn = draw_frames(
            series, indices, shot, appearances, lambda done, of: stage("drawing", done, of), up=wanted.view.upright.name
        )
        for index, pictures in drawn:
            yield [
                Captioned(picture, f"frame {frame_text(series.facts[index].number)}{name}")
                for picture, name in zip(pictures, names, strict=True)
            ]


def _fit(series: Series, wanted: FitRequest, options: PictureOptions, stage: Stage) -> SequenceFit | None:
    """Measure the texture fit; None if the picture doesn't depend on it, or if there are no UVs with an area.

    Raises:
        MeshqcError: There are no UVs, but an option needs UVs.
    """
    own_grid = not (options.plain or options.texture or options.maps or options.normal_map)
    if series.reference_facts.faces_without_uvs == series.reference_facts.faces:
        if options.texture or options.normal_map or options.closeup:
            raise MeshqcError(f"{series.sequence.pattern}: there are no UVs, so no texture can be shown")
        if own_grid:
            say(f"{series.sequence.pattern}: there are no UVs, so the surface is drawn without a texture")
        return None
    judged = own_grid or options.texture or options.maps or options.closeup or wanted.material is not None
    if wanted.view.side is not None and not judged:
        return None
    try:
        # pictures don't depend on the density, which can't be derived if a flat object is seen edge-on
        return fit_sequence(thinned(series, _FIT_FRAMES), replace(wanted, density=1.0), stage)
    except NoTexture:  # the UVs have no area
        if own_grid:
            say(f"{series.sequence.pattern}: the UVs have no area, so the surface is drawn without a texture")
        return None


def _appearances(fit: SequenceFit | None, shot: Shot, arguments: Arguments[PictureOptions]) -> list[Appearance]:
    options = arguments.options
    longest = 2 * fineness(shot.width, shot.height) * max(shot.width, shot.height)
    normals = None if options.normal_map is None else read_picture(options.normal_map, longest)
    own = MaterialMaps(MaterialResolver(arguments.scope), longest) if options.maps else None
    textures: list[Picture | None] = [None]
    if options.texture:
        textures = [read_picture(path, longest) for path in options.texture]
    elif fit is not None and not (options.plain or options.maps or options.normal_map):
        textures = [grid_of_aspect(fit.material.wanted_aspect, _GRID_SIDE)]
    return [Appearance(texture, options.wires, options.material, normals, own) for texture in textures]


def _say_squeezed(fit: SequenceFit | None, appearances: list[Appearance], arguments: Arguments[PictureOptions]) -> None:
    """Report textures that look squeezed on the surface. Do nothing if `fit` is None.

    A material's colour map is reported only if it is squeezed almost everywhere, because the map may have been
    painted to compensate for the stretch of the surface.
    """
    if fit is None:
        return
    options = arguments.options
    for path, appearance in zip(options.texture or (), appearances, strict=False):
        if appearance.texture is not None:
            height, width = appearance.texture.shape[:2]
            _say_if_squeezed(Name.from_path(path.name), width / height, fit.material, fit.material.wanted_aspect)
    if options.maps:
        materials = MaterialResolver(arguments.scope).of_frame(fit.series.reference_facts)
        regions = {region.material: region for region in fit.texture.materials}
        for one in judge_maps(materials, fit.texture, fit.density, arguments.scope):
            material = one.map.map.material
            covered = options.texture and options.material in (None, display(material))
            if one.size is not None and not covered and one.map.map.statement.raw.lower() == b"map_kd":
                low, high = np.exp(np.nanmean(np.log(regions[material].aspects), axis=0))[[0, 2]].tolist()
                width, height = one.size
                nearest = min(max(width / height, low), high)
                _say_if_squeezed(one.map.map.name, width / height, regions[material], nearest)


def _say_if_squeezed(name: Name, aspect: float, region: RegionFit, fitting: float) -> None:
    """Report a texture if its aspect (width / height) differs too much from the aspect that fits the surface."""
    if max(aspect / fitting, fitting / aspect) > MAP_SQUEEZE:
        wanted = region.wanted_aspect
        side, factor = ("width", aspect / wanted) if aspect > wanted else ("height", wanted / aspect)
        say(
            f"caution: {name} is squeezed in {side} by a factor of {factor:.2f}; the surface of "
            f"{display(region.material)} needs an aspect ratio of {wanted:.3g} to 1"
        )


def _still(series: Series, indices: list[int], rows: list[Row], layout: _Layout, options: PictureOptions) -> bytes:
    """Encode a picture, or the pages of a contact sheet.

    Raises:
        Refusal: There is more than one page, but the file is a PNG.
    """
    pages = [rows[0][0].picture] if len(rows) * len(rows[0]) == 1 else _pages(series, indices, rows, layout)
    if options.output.suffix.lower() == ".pdf":
        return pdf_bytes(pages)
    if len(pages) > 1:
        raise Refusal(f"{len(pages)} pages, one per texture, don't fit into a PNG; name a file that ends in .pdf")
    return png_bytes(pages[0])


def _pages(series: Series, indices: list[int], rows: list[Row], layout: _Layout) -> list[Picture]:
    """Draw the pages of a contact sheet: one page for each texture, or one page with all textures."""
    by_texture = [[row[at] for row in rows] for at in range(len(rows[0]))]
    groups = by_texture if layout.paged else [[one for texture in by_texture for one in texture]]
    title = f"{series.sequence.pattern}, {_frames(series, indices)}"
    size = _letter_size(layout)
    return [contact_sheet(group, columns=layout.columns, size=size, title=title) for group in groups]


def _letter_size(layout: _Layout) -> int:
    return max(round(layout.size[1] / _LETTERS), 12)


def _animation(
    series: Series, indices: list[int], rows: Iterable[Row], layout: _Layout, options: PictureOptions
) -> bytes:
    """Encode the frames as an animation, and report flashes that can cause harm.

    The last frame before a gap is repeated, so that the timing is preserved.
    """
    step = options.step or 1
    rate = Fraction(options.fps or 24) / step
    numbers = [series.facts[index].number for index in indices]
    times = [max(1, round((b - a) / series.sequence.step / step)) for a, b in pairwise(numbers)]
    lights, captions = [], []

    def pictures() -> Iterator[Picture]:
        for row, time in zip(rows, [*times, 1], strict=True):
            picture = side_by_side(row, layout.columns, _letter_size(layout))
            step = max(1, min(picture.shape[:2]) // _LIGHT_ROWS)
            light = light_of(picture[::step, ::step])
            for _ in range(time):
                lights.append(light)
                captions.append(row[0].caption.split(",")[0])
                yield picture

    content = movie_bytes(pictures(), rate, options.output.suffix.lower())
    flash = first_flash(lights, float(rate))
    if flash is not None:
        at, red = flash
        say(
            f"caution: from {captions[at]} on, the picture flashes {'in red ' if red else ''}more than three times per "
            "second, which can harm people with photosensitive epilepsy"
        )
    return content


def _frames(series: Series, indices: list[int]) -> str:
    numbers = [series.facts[index].number for index in indices]
    return f"{'frame' if len(numbers) == 1 else 'frames'} {frame_ranges(numbers, series.sequence.step)}"
