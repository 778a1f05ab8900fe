"""What a delivery will not have of its source, named before anything is written and again in its notes."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from inspector.delivery.gltf_maps import fitted
from inspector.formats.format import Format, Trait
from inspector.formats.mesh import Image, LeftOut, Material, few
from inspector.formats.wavefront.decompose import materials_of
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.materials.image_cache import inside_images
from inspector.sequence.materials.resolver import FrameMaterials, MapUse
from inspector.sequence.measure.facts import FrameFacts


@dataclass(frozen=True, slots=True)
class SequenceLosses:
    """What one sequence loses.

    Attributes:
        sequence: Its pattern.
        losses: Each once, what is visible first.
    """

    sequence: Name
    losses: tuple[LeftOut, ...]

    def lines(self) -> Iterator[str]:
        """One line per loss."""
        yield from (f"{'warning' if loss.seen else 'note'}: {loss.what}" for loss in self.losses)


def source_losses(inspection: FolderInspection) -> list[SequenceLosses]:
    """What the frame files have and OBJ frames made of them don't."""
    return _kept((one, _of_files(one.series.facts)) for one in inspection.inspections)


def form_losses(inspection: FolderInspection, form: Format) -> list[SequenceLosses]:
    """What the frames have and a format can't hold."""
    return _kept((one, _of_form(one, form)) for one in inspection.inspections)


def joined(first: Sequence[SequenceLosses], second: Sequence[SequenceLosses]) -> list[SequenceLosses]:
    """Both, by sequence."""
    found: dict[Name, tuple[LeftOut, ...]] = {}
    for one in (*first, *second):
        found[one.sequence] = few((*found.get(one.sequence, ()), *one.losses))
    return [SequenceLosses(name, losses) for name, losses in found.items()]


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
    facts = one.series.facts
    for trait, visible, has in (
        (Trait.UVS, True, any(each.uvs for each in facts)),
        (Trait.PARTIAL_UVS, True, Trait.UVS in form.carries and any(map(_partial, facts))),
        (Trait.NORMALS, True, any(each.normals for each in facts)),
        (Trait.COLOURS, True, any(each.colours for each in facts)),
        (Trait.MATERIALS, True, any(each.materials for each in facts)),
        (Trait.SURFACES, True, Trait.MATERIALS in form.carries and any(each.materials for each in facts)),
        (Trait.OBJECTS, False, any(each.objects for each in facts)),
        (Trait.GROUPS, False, any(each.groups for each in facts)),
    ):
        if has and trait not in form.carries:
            yield LeftOut(trait.value, visible)
    if one.sequence.missing and Trait.GAPS not in form.carries:
        gap = numbers_text(one.sequence.missing)
        yield LeftOut(f"the gap in the frame numbers: what reads the file blends across {gap}", seen=True)
    if any(each.smoothing for each in facts):
        yield LeftOut("smoothing groups")
    if any(each.problem("not-polygonal") or each.problem("free-form") for each in facts):
        yield LeftOut("points, lines, curves and free-form surfaces", seen=True)
    if Trait.SURFACES in form.carries:
        yield from materials_for(one, form)[1]


def _partial(facts: FrameFacts) -> bool:
    return 0 < facts.faces_without_uvs < facts.faces


def materials_for(one: Inspection, form: Format) -> tuple[dict[Name, list[Material]], tuple[LeftOut, ...]]:
    """The materials that faces of any frame have, as the format can hold them, and what is left of them.

    Of a name there is more than one where the material changes over the frames.
    """
    found: dict[Name, list[Material]] = {}
    losses: list[LeftOut] = []
    used = {name for facts in one.series.facts for name in facts.materials}
    for answer, facts in _answers(one):
        for material, lost in _materials(one, answer, facts, form):
            if material.name not in used:
                continue
            whole, more = fitted(material) if form.id == "glb" else (material, ())
            if whole not in found.setdefault(whole.name, []):
                found[whole.name].append(whole)
            losses += [*lost, *more]
    return found, few(losses)


def _answers(one: Inspection) -> Iterator[tuple[FrameMaterials, FrameFacts]]:
    """What the frames' materials lead to, each answer once, and a frame that has it."""
    seen: set[int] = set()
    for index, facts in enumerate(one.series.facts):
        answer = one.context.materials(index)
        if id(answer) not in seen:
            seen.add(id(answer))
            yield answer, facts


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
            yield from materials_of(use.library, images)


def _image(one: Inspection, use: MapUse, facts: FrameFacts, form: Format) -> Image:
    """An image as seen from the sequence's folder; with its bytes where the format takes it in."""
    path, scope = use.target.path, one.context.book.scope
    if path is None:
        place = scope.place(facts.file.path)
        return Image(use.map.name, inside_images(place, place.lstat().st_mtime_ns)[use.map.name])
    relative = Name.from_path(Path(os.path.relpath(path, one.sequence.folder)).as_posix())
    return Image(relative, scope.read(path) if form.id == "glb" else None)
