"""Draw the pictures of a page: frames before and after a fix, caption versions, and thumbnails of textures."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from inspector.arrays import Floats
from inspector.delivery.apply import Corrections, Sources
from inspector.delivery.plan import SequencePlan
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrame
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.reader import read_frame
from inspector.inspection.inspection import Inspection
from inspector.lettering.caption_file import find_captions, read_captions
from inspector.lettering.caption_versions import CaptionCase, caption_cases
from inspector.lettering.maps_fit import MapFit
from inspector.lettering.sequence_fit import SequenceFit, display, evenly
from inspector.lettering.still_pictures import Appearance, closeup, draw_frame, draw_frames
from inspector.lettering.viewpoint import up_in_picture
from inspector.picture.camera import Camera, frame_points
from inspector.picture.grid import grid_of_aspect
from inspector.picture.image_files import flattened, read_picture
from inspector.picture.placement import Placement, placement_of
from inspector.picture.png import png_bytes
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.materials.colour_maps import MaterialMaps
from inspector.sequence.series import Series
from inspector.surface.text_direction import Upright

WIDTH, HEIGHT = 320, 180
"""Size of a picture of a frame, in pixels."""

_MAP_SIDE = 1024
"""Maps are reduced until their longer side has at most this many pixels: about three times the width of a picture."""

_THUMBNAIL = 160
_GRID_SIDE = 512
_STRIP = 5
"""Maximum number of frames in which the page shows a caption version."""

_FIXES = 8
"""For each sequence, the page shows pictures of at most this number of fixes."""

_FIX_FACES = 100_000
"""Fixes are drawn only if the reference frame has at most this many faces. With this number of faces, drawing the
frames before and after a fix takes about a second."""

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, eq=False)
class FixPictures:
    """Pictures of a frame before and after a fix.

    Attributes:
        frame: The frame number, as text.
        before: PNG data of the frame before the fix; None if nothing can be drawn.
        after: PNG data of the frame after the fix; None if nothing can be drawn.
        placement: The bounding boxes before and after the fix; None if both pictures have the same scale and position.
    """

    frame: str
    before: bytes | None
    after: bytes | None
    placement: Placement | None = None


@dataclass(frozen=True, eq=False)
class Strip:
    """A caption version, with close-ups.

    Attributes:
        case: The version.
        pictures: Close-ups, as PNG data by frame number. The frame numbers are strings.
    """

    case: CaptionCase
    pictures: Mapping[str, bytes]


def appearance_of(one: Inspection, fit: SequenceFit | None) -> tuple[Appearance, str]:
    """Choose the textures that pictures of a sequence show on its surface, and describe them.

    If texture maps were found, the surface shows them; otherwise, it shows a test grid or, without a texture fit, no
    texture.
    """
    base = one.series.reference_facts
    resolver = one.context.resolver
    maps = MaterialMaps(resolver, _MAP_SIDE)
    if base.uvs and any(maps.colours(base, name) is not None for name in base.materials):
        return Appearance(
            own=maps
        ), "with the texture maps of their materials, and with stripes where UVs or a map are missing"
    if fit is not None:
        return Appearance(
            grid_of_aspect(fit.material.wanted_aspect, _GRID_SIDE)
        ), "with a test grid, because no texture map was found"
    return Appearance(), "without a texture"


def fix_pictures(part: SequencePlan, side: Floats, appearance: Appearance) -> Iterator[tuple[AnyStep, FixPictures]]:
    """Draw a frame before and after each step that edits frames.

    The first frame of the step is drawn. If the step doesn't change the picture of the first frame, the middle frame is
    drawn instead. If the step doesn't change the picture of the middle frame either, the step is left out. If a step
    scales the frame or moves it far away, the picture after the step shows the frame at its previous position and size.

    Args:
        part: The plan of a sequence.
        side: Direction from the object to the viewer, (3,).
        appearance: The appearance of the surface.

    Yields:
        Up to _FIXES pairs of a step and its pictures; none if the reference frame has more than _FIX_FACES faces.
    """
    one = part.inspection
    series = one.series
    if series.reference_index is None or series.reference_facts.faces > _FIX_FACES:
        return
    by_number = {facts.number: index for index, facts in reversed(list(enumerate(series.facts)))}
    shown = 0
    for at, step in enumerate(part.steps):
        if shown == _FIXES:
            return
        if fix_by_id(step.fix).edit_frame is None:
            continue
        for number in list(dict.fromkeys([*step.frames[:1], *step.frames[len(step.frames) // 2 :][:1]])):
            index = by_number.get(number)
            if index is None or not series.facts[index].filled:
                continue
            output = OutputFrame(number, series.facts[index].file.name, (index,))
            states = [_state(one, part.steps[:end], output) for end in (at, at + 1)]
            placement = None
            if states[0] is not None and states[1] is not None:
                placement = placement_of(states[0].box, states[1].box)
                if placement is not None:
                    states[1] = states[1].replace(positions=placement.put_back(states[1].positions))
            camera = _around(states, side)
            before, after = (_drawn(one, index, frame, camera, appearance) for frame in states)
            if before != after or placement is not None:
                yield step, FixPictures(frame_text(number), before, after, placement)
                shown += 1
                break


def _state(one: Inspection, steps: Sequence[AnyStep], output: OutputFrame) -> Frame | None:
    """Return a frame with some steps applied; None if the frame can't be made."""
    scope = Scope(one.context.resolver.scope.roots[0], one.context.settings.textures)
    try:
        return read_frame(Corrections(one.series.facts, steps, Sources(scope, {})).make(output).data)
    except (MeshqcError, UnreadableFrame):
        return None


def _around(frames: Sequence[Frame | None], side: Floats) -> Camera | None:
    """Place a camera so that it sees the frame both before and after a fix, and so that its pictures show any change in
    position or size. If the frame has no finite positions before the fix and none after it,
    return None."""
    points = np.concatenate([np.zeros((0, 3)), *(frame.positions for frame in frames if frame is not None)])
    known = points[np.isfinite(points).all(axis=1)]
    if not len(known):
        return None
    return frame_points(known, -side, up=up_in_picture(side, Upright()), aspect=WIDTH / HEIGHT)


def _drawn(
    one: Inspection, index: int, frame: Frame | None, camera: Camera | None, appearance: Appearance
) -> bytes | None:
    """Draw one frame, as PNG data; None if nothing can be drawn."""
    if frame is None or camera is None or not np.isfinite(frame.positions).all(axis=1).any():
        return None
    facts = replace(one.series.facts[index], libraries=frame.libraries, materials=frame.materials)
    return png_bytes(draw_frame(frame, facts, camera, appearance, WIDTH, HEIGHT))


def caption_strips(
    one: Inspection, fit: SequenceFit, stated: tuple[Path, Scope] | None, progress: Progress
) -> tuple[Strip, ...]:
    """Draw close-ups of each caption version in a few frames of a sequence. The result is empty if there is no captions
    file.

    Args:
        one: The inspection of the sequence.
        fit: The texture fit of the sequence.
        stated: The captions file, and the folders that may be read for it; None to search for captions.toml beside the
            frames and in the inspected folder.
        progress: Called with the current stage, the amount of work done, and the total amount.

    Raises:
        MeshqcError: The captions file has a mistake, or a file can't be read.
    """
    series, resolver = fit.series, one.context.resolver
    scope = resolver.scope if stated is None else stated[1]
    file = stated[0] if stated is not None else find_captions((series.sequence.folder, scope.roots[0]), scope)
    if file is None:
        return ()
    cases = caption_cases(fit, read_captions(file, scope), resolver.of_frame(series.reference_facts), scope, progress)
    strips = []
    for case in cases:
        pictures: dict[str, bytes] = {}
        if case.lettered is not None and case.fit is not None:
            shot = replace(closeup(case.fit), width=WIDTH, height=HEIGHT)
            indices = sheet_indices(series, _STRIP, case.version.frames)
            for index, drawn in draw_frames(series, indices, shot, [strip_appearance(one, case)]):
                pictures[frame_text(series.facts[index].number)] = png_bytes(drawn[0])
        strips.append(Strip(case, pictures))
    return tuple(strips)


def sheet_indices(series: Series, most: int, span: tuple[Fraction, Fraction] | None = None) -> list[int]:
    """Choose evenly spread frames that can be drawn, and return their indices in the facts.

    Args:
        series: The sequence.
        most: Maximum number of frames.
        span: First and last number of the frames to choose from; None for all frames.
    """
    there = [
        index
        for index in np.flatnonzero(series.usable).tolist()
        if series.facts[index].box is not None and (span is None or span[0] <= series.facts[index].number <= span[1])
    ]
    return [there[place] for place in evenly(len(there), most)] if there else []


def strip_appearance(one: Inspection, case: CaptionCase) -> Appearance:
    """Return the appearance of a surface. The material of the caption version shows the texture with the drawn caption,
    and the other materials show their maps."""
    assert case.lettered is not None
    assert case.fit is not None
    texture = flattened(case.lettered.rendered.pixels, 2 * _MAP_SIDE)
    material = display(case.fit.material.material)
    return Appearance(texture, material=material, own=MaterialMaps(one.context.resolver, _MAP_SIDE))


def thumbnails(maps: Sequence[MapFit], scope: Scope) -> Mapping[int, bytes]:
    """Make small pictures of texture maps, as PNG data by index in `maps`. Maps that can't be read are left out."""
    found: dict[int, bytes] = {}
    for place, one in enumerate(maps):
        if one.map.target.path is not None:
            try:
                found[place] = png_bytes(read_picture(one.map.target.path, _THUMBNAIL, scope.open))
            except MeshqcError:
                continue  # the checks of textures report the problem
    return found
