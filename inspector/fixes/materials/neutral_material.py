"""Assign a material to faces that have none, and define materials that no library defines."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count

from inspector.checks.base.context import CheckContext
from inspector.checks.base.libraries import fitting_libraries, named
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets, LibraryAsset, folder_of, free_path
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.library_edit import extended
from inspector.fixes.base.text_edit import Draft
from inspector.formats.frame import Frame, LibraryLine
from inspector.formats.wavefront.library import read_library
from inspector.names import Name
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.materials.references import Status

_BARE = "face-without-material"
_GREY = "Ka 0 0 0\nKd 0.5 0.5 0.5\nKs 0 0 0\nillum 1\n"
"""Definition of a mid-grey material without a highlight (MTL File Formats 4.2, 1995: illum 1)."""


@dataclass(frozen=True, slots=True)
class NeutralMaterials:
    """The materials for faces without a usable material.

    Attributes:
        neutral: Name of the material for faces that have none.
        text: Definitions of all missing materials, as library text.
        homeless: Numbers of the frames that refer to no readable library.
        file: File name of the library that these frames get.
    """

    neutral: Name
    text: bytes
    homeless: frozenset[Fraction]
    file: Name


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[NeutralMaterials]:
    """Find faces without a material, and materials that no library defines.

    Raises:
        Refusal: There are no such faces or materials, `share-library` must be applied first, or a chosen frame doesn't
            exist or can't be read.
    """
    facts = context.series.facts
    readable = tuple(one.number for one in facts if one.filled)
    wanted = readable_indices(context, readable if frames is None else frames)
    indices = [index for index in wanted if facts[index].problem(_BARE) or context.materials(index).undefined]
    if not indices:
        raise Refusal("every face has a material that a library defines")
    homeless = [index for index in indices if not _has_library(context, index)]
    bare = [index for index in indices if facts[index].problem(_BARE)]
    given = _reference_material(context)
    if any(given not in context.materials(index).defined for index in bare):
        given = None
    neutral = given or _free_name(name for index in indices for name in _known(context, index))
    names = dict.fromkeys(name for index in indices for name in context.materials(index).undefined)
    if bare and given is None:
        names[neutral] = None
    said = [f"define {named(names)} as mid grey, for {numbers_text(context.numbers(indices))}"] if names else []
    if bare and given is not None:
        where = numbers_text(context.numbers(bare))
        said.append(f"assign the reference frame's material `{given}` to the faces without a material on {where}")
    numbers = context.numbers(indices)
    work = NeutralMaterials(neutral, _described(names), frozenset(context.numbers(homeless)), _file(context))
    return Step(
        FIX.id,
        {},
        numbers,
        "; ".join(said) + (f"; add a reference to {work.file} in {numbers_text(work.homeless)}" if homeless else ""),
        (_change(context, indices[0], neutral),),
        work=work,
    )


def _reference_material(context: CheckContext) -> Name | None:
    """Return the material of the reference frame's faces; None unless all of them have the same material."""
    if context.series.reference_index is None:
        return None
    base = context.series.reference_facts
    return base.materials[0] if len(base.materials) == 1 and base.problem(_BARE) is None else None


def _has_library(context: CheckContext, index: int) -> bool:
    """Return whether a frame refers to a library that can be read.

    Raises:
        Refusal: `share-library` must be applied first, because a library isn't exactly at the path stated in the
            frame, or because none of the libraries to which frames refer was found, but a library in the folder
            defines the missing materials.
    """
    materials = context.materials(index)
    uses = materials.libraries
    near = [use for use in uses if use.target.status is Status.NEAR]
    if near:
        raise Refusal(f"{near[0].name} was found, but under a different path or name; apply `share-library` first")
    fitting = fitting_libraries(context, materials.undefined)
    if fitting:
        path = context.resolver.scope.relative(fitting[0])
        raise Refusal(f"{path} defines the materials that the faces use; apply `share-library` first")
    return any(use.library is not None for use in uses)


def _known(context: CheckContext, index: int) -> tuple[Name, ...]:
    return context.series.facts[index].materials + context.materials(index).defined


def _free_name(taken: Iterable[Name]) -> Name:
    known = set(taken)
    names = (Name(b"neutral%s" % (str(number).encode() if number > 1 else b"")) for number in count(1))
    return next(name for name in names if name not in known)


def _described(names: Iterable[Name]) -> bytes:
    return b"".join(b"newmtl " + name.raw + b"\n" + _GREY.encode() for name in names)


def _file(context: CheckContext) -> Name:
    folder = context.series.facts[0].file.path.parent
    place = free_path("", "neutral.mtl", lambda name: os.path.lexists(folder / name))
    return Name(os.fsencode(place))


def _change(context: CheckContext, index: int, neutral: Name) -> Change:
    facts = context.series.facts[index]
    if facts.problem(_BARE):
        return Change(f"frame {frame_text(facts.number)}, faces", "no material", neutral.display)
    undefined = context.materials(index).undefined[0]
    return Change(f"frame {frame_text(facts.number)}, {undefined}", "not defined", "mid grey")


def edit_frame(frame: Frame, step: Step[NeutralMaterials], number: Fraction) -> Frame:
    """Select the neutral material before the first face without a material.

    If the frame refers to no readable library, add a reference to the library of this fix. If another fix has already
    given the frame a library, keep that library instead, because `edit_assets` adds the materials to it.
    """
    pointed = b"mtllib" in frame.changed
    if any(run.material is None for run in frame.runs):
        draft = Draft(frame)  # the changes of earlier fixes are written first; blocks may then have different indices
        bare = next(run.block for run in draft.frame.runs if run.material is None)
        draft.put_before(bare, b"usemtl " + step.work.neutral.raw)
        frame = draft.done()
    if number in step.work.homeless and not pointed:
        return frame.replace(libraries=(LibraryLine(step.work.file, 0),))
    return frame


def edit_assets(assets: Assets, step: Step[NeutralMaterials], context: CheckContext) -> Assets:
    """Add the missing definitions to every library. If frames have no library, add a library for them."""
    work = step.work
    libraries = {place: _completed(entry, work.text) for place, entry in assets.libraries.items()}
    if work.homeless:
        place = posixpath.join(folder_of(context), os.fsdecode(work.file.raw))
        libraries[place] = LibraryAsset(read_library(work.text), (), (), made=True)
    return replace(assets, libraries=libraries)


def _completed(entry: LibraryAsset, text: bytes) -> LibraryAsset:
    """Add the definitions in `text` to a library, except those of materials that it already defines."""
    known = set(entry.library.materials)
    missing = [one for one in read_library(text).definitions if one.name not in known]
    return extended(entry, b"".join(text[one.start : one.stop] for one in missing)) if missing else entry


FIX = Fix(
    id="neutral-material",
    title="Add a neutral material where there is none",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS}),
    does="Assigns a material to faces without one: the material of the reference frame, if all its faces have the "
    "same material and the libraries of the corrected frames define it; otherwise, a mid-grey material. "
    "Materials that no library defines are defined as mid grey.",
    cost="The intended look of these faces is unknown. Their material is an estimate.",
    touches=frozenset({b"usemtl", b"mtllib"}),
    claims=frozenset({Claim.NEUTRAL_MATERIALS}),
    plan=plan,
    edit_frame=edit_frame,
    edit_assets=edit_assets,
)
