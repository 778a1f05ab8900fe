"""Find content of the source that will be missing from a delivery."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

from inspector.delivery.gltf_maps import fitted
from inspector.formats.format import Format, Trait
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Image, LeftOut, Material, few, of_vertices
from inspector.formats.wavefront.decompose import materials_of
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.materials.image_cache import inside_images
from inspector.sequence.materials.resolver import FrameMaterials, MapUse
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.replay import replay


@dataclass(frozen=True, slots=True)
class SequenceLosses:
    """The content that will be missing from the delivery of one sequence.

    Attributes:
        sequence: Pattern of the sequence.
        losses: The items of content, each listed once. If there are many, the last entry gives only the number of the
            remaining items.
    """

    sequence: Name
    losses: tuple[LeftOut, ...]

    def lines(self) -> Iterator[str]:
        yield from (f"{'warning' if loss.seen else 'note'}: {loss.what}" for loss in self.losses)


def source_losses(inspection: FolderInspection) -> list[SequenceLosses]:
    """Find content that was left out when frames were read or unpacked from a scene file."""
    return _kept((one, chain(_of_files(one.series.facts), _of_scene(one))) for one in inspection.inspections)


def form_losses(inspection: FolderInspection, form: Format) -> list[SequenceLosses]:
    """Find content that is lost when the frames are converted to a format.

    Args:
        inspection: The frames.
        form: The format.
    """
    return _kept((one, _of_form(one, form)) for one in inspection.inspections)


def joined(first: Sequence[SequenceLosses], second: Sequence[SequenceLosses]) -> list[SequenceLosses]:
    """Merge two lists of losses into a list with one entry for each sequence.

    Args:
        first: The list whose content comes first.
        second: The list whose content is added.
    """
    found: dict[Name, tuple[LeftOut, ...]] = {}
    for one in (*first, *second):
        found[one.sequence] = few((*found.get(one.sequence, ()), *one.losses))
    return [SequenceLosses(name, losses) for name, losses in found.items()]


def _of_scene(one: Inspection) -> Iterator[LeftOut]:
    context = one.context
    names = {context.file_name(index).text for index in range(len(one.series.facts))}
    return (LeftOut(what, seen) for what, seen, paths in context.marks.left_out if names & paths)


def _kept(pairs: Iterator[tuple[Inspection, Iterator[LeftOut]]]) -> list[SequenceLosses]:
    found = [(one.sequence.pattern, few(sorted(losses, key=lambda loss: not loss.seen))) for one, losses in pairs]
    return [SequenceLosses(pattern, losses) for pattern, losses in found if losses]


def _of_files(every: Sequence[FrameFacts]) -> Iterator[LeftOut]:
    for facts in every:
        for kind, seen in (("left-out-seen", True), ("left-out", False)):
            problem = facts.problem(kind)
            for place in () if problem is None else problem.places:
                yield LeftOut("" if place.text is None else place.text.display, seen)


def _of_form(one: Inspection, form: Format) -> Iterator[LeftOut]:
    for trait, (visible, has) in _CONTENT.items():
        whole = _PART_OF.get(trait)
        if trait not in form.keeps and (whole is None or whole in form.keeps) and has(one):
            yield LeftOut(trait.value, visible)
    if one.sequence.missing and Trait.GAPS not in form.keeps:
        gap = numbers_text(one.sequence.missing)
        what = f"the fact that {gap} {'is' if len(one.sequence.missing) == 1 else 'are'} missing"
        yield LeftOut(f"{what}; programs that read the file interpolate between the neighbouring frames", seen=True)
    if _some(one, lambda each: each.problem("partial-extras")):
        yield LeftOut("the numbers after x, y and z (such as colours), because only some vertices have them", seen=True)
    if Trait.SURFACES in form.keeps:
        yield from dict.fromkeys(loss for _, losses in materials_of_frames(one, form) for loss in losses)


def _some(one: Inspection, has: Callable[[FrameFacts], object]) -> bool:
    return any(map(has, one.series.facts))


def _corner_normals(one: Inspection) -> bool:
    """Whether a frame has normals that a format with one normal per vertex can't hold."""
    facts = one.series.facts
    frames = replay(one.series, [index for index, each in enumerate(facts) if each.readable and each.normals])
    return any(
        of_vertices(frame.normals, frame.corners.vn, frame.corners.v, len(frame.positions)) is None
        for frame in frames
        if (frame.corners.vn != ABSENT).any()
    )


def _third_numbers(one: Inspection) -> bool:
    """Whether any UV of the reference frame has a third number other than 0."""
    if not _some(one, lambda each: each.readable and each.uvs):
        return False
    uvs = one.context.reference_frame.uvs
    return bool(uvs.shape[1] > 2 and uvs[:, 2].any())


_CONTENT: Mapping[Trait, tuple[bool, Callable[[Inspection], bool]]] = {
    Trait.UVS: (True, lambda one: _some(one, lambda each: each.uvs)),
    Trait.PARTIAL_UVS: (True, lambda one: _some(one, lambda each: 0 < each.faces_without_uvs < each.faces)),
    Trait.DEPTHS: (False, _third_numbers),
    Trait.NORMALS: (True, lambda one: _some(one, lambda each: each.normals)),
    Trait.CORNER_NORMALS: (True, _corner_normals),
    Trait.COLOURS: (True, lambda one: _some(one, lambda each: each.colours)),
    Trait.MATERIALS: (True, lambda one: _some(one, lambda each: each.materials)),
    Trait.SURFACES: (True, lambda one: any(use.library for answer in _answers(one) for use in answer.libraries)),
    Trait.OBJECTS: (False, lambda one: _some(one, lambda each: each.objects)),
    Trait.GROUPS: (False, lambda one: _some(one, lambda each: each.groups)),
    Trait.SMOOTHING: (False, lambda one: _some(one, lambda each: each.smoothing)),
    Trait.LOOSE: (False, lambda one: _some(one, lambda each: each.unused_vertices and each.faces)),
    Trait.CLOUDS: (True, lambda one: _some(one, lambda each: each.vertices and not each.faces)),
    Trait.CURVES: (
        True,
        lambda one: _some(one, lambda each: each.problem("not-polygonal") or each.problem("free-form")),
    ),
}
"""For each kind of content: whether its loss changes the picture, and a function that tests whether a sequence has such
content."""

_PART_OF = {
    Trait.PARTIAL_UVS: Trait.UVS,
    Trait.DEPTHS: Trait.UVS,
    Trait.CORNER_NORMALS: Trait.NORMALS,
    Trait.SURFACES: Trait.MATERIALS,
}
"""Kind of content -> the larger kind that includes it. If the larger kind is lost, only the larger kind is reported."""


def materials_of_frames(one: Inspection, form: Format) -> Iterator[tuple[tuple[Material, ...], tuple[LeftOut, ...]]]:
    """Convert the materials of the faces to those of a format, frame by frame.

    Frames may have textures of their own, so only the materials of a few frames are in memory at a time.

    Args:
        one: The sequence.
        form: The format.

    Yields:
        For each frame, its materials, and the properties that the format can't hold. Several materials have the same
        name if the libraries of a frame define a material with that name in different ways.
    """
    known: dict[int, tuple[tuple[Material, ...], tuple[LeftOut, ...]]] = {}
    for index, facts in enumerate(one.series.facts):
        answer = one.context.materials(index)
        if id(answer) not in known:
            if len(known) == _KEPT_MATERIALS:
                del known[next(iter(known))]
            known[id(answer)] = _materials_of(one, answer, facts, form)
        yield known[id(answer)]


_KEPT_MATERIALS = 4
"""Number of different sets of materials that are kept while the frames are converted."""


def _materials_of(
    one: Inspection, answer: FrameMaterials, facts: FrameFacts, form: Format
) -> tuple[tuple[Material, ...], tuple[LeftOut, ...]]:
    found: dict[Material, None] = {}
    losses: list[LeftOut] = []
    for material, lost in _materials(one, answer, facts, form):
        if material.name not in facts.materials:  # its maps were not resolved for this frame
            continue
        whole, more = fitted(material) if form.id == "glb" else (material, ())
        found[whole] = None
        losses += [*lost, *more]
    return tuple(found), few(losses)


def _answers(one: Inspection) -> Iterator[FrameMaterials]:
    """Yield each distinct set of resolved materials."""
    answers = (one.context.materials(index) for index in range(len(one.series.facts)))
    yield from {id(answer): answer for answer in answers}.values()


def _materials(
    one: Inspection, answer: FrameMaterials, facts: FrameFacts, form: Format
) -> Iterator[tuple[Material, tuple[LeftOut, ...]]]:
    for use in answer.libraries:
        if use.library is not None:
            images = {
                each.map.start: _image(one, each, facts, form)
                for each in answer.maps
                if each.library == use.name and each.place is not None
            }
            tiled = [each for each in answer.maps if each.library == use.name and _cut_to_a_tile(each, form)]
            for material, lost in materials_of(use.library, images):
                own = (each for each in tiled if each.map.material == material.name)
                tiles = (f"all UV tiles of {each.map.statement} except {each.target.number.decode()}" for each in own)
                more = (LeftOut(f"material {material.name}: {said}", seen=True) for said in tiles)
                yield material, (*lost, *more)


def _cut_to_a_tile(use: MapUse, form: Format) -> bool:
    """Whether a map refers to a tiled image of which the format can hold only one tile.

    GLB can hold only one image per map. OpenUSD supports tiles only if the file name contains `<UDIM>`.
    """
    token = use.target.token.lower()
    return bool(token) and bool(use.target.tiles) and not (form.scene is not None and token == _UDIM.lower())


_UDIM = b"<UDIM>"
"""The placeholder for the number of a tile in OpenUSD (UsdPreviewSurface specification, "UDIM")."""


def _image(one: Inspection, use: MapUse, facts: FrameFacts, form: Format) -> Image:
    """Return the image of a map, with a name relative to the sequence's folder.

    The data of the image is included if the format embeds images or if the image is inside a frame file.
    """
    path, scope = use.target.path, one.context.resolver.scope
    if path is None:
        file = scope.place(facts.file.path)
        return Image(use.map.name, inside_images(file, file.lstat().st_mtime_ns)[use.map.name])
    place = Path(os.path.relpath(path, one.sequence.folder)).as_posix()
    if form.scene is not None and use.target.token.lower() == _UDIM.lower():
        return Image(Name(replace(use.target, token=_UDIM).written_as(place)))
    relative = Name.from_path(place)
    return Image(relative, scope.read(path) if form.id == "glb" else None)
