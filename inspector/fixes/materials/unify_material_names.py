"""Rename materials as in the reference frame, if the names differ only in the number at the end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.checks.base.numbered_names import name_stem
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.library_edit import renamed
from inspector.fixes.base.text_edit import Draft
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text

Names = Mapping[Name, Name]
"""New names of materials, by old name."""


@dataclass(frozen=True, slots=True)
class UnifiedNames:
    """New names of materials.

    Attributes:
        frames: New names in each frame, by frame number.
        libraries: New names in the libraries, combined from all frames.
    """

    frames: Mapping[Fraction, Names]
    libraries: Names


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[UnifiedNames]:
    """Find the materials whose names differ from names in the reference frame only in the number at the end.

    Raises:
        Refusal: There is no such material; a material could match more than one material of the reference frame; the
            new names would change the material of a face; or a chosen frame doesn't exist or can't be read.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    facts = series.facts
    readable = tuple(one.number for one in facts if one.filled)
    wanted = readable_indices(context, readable if frames is None else frames)
    found = {index: names for index in wanted if (names := _names(context, index))}
    if not found:
        raise Refusal(
            "there is no material whose name is the same as a name in the reference frame except for the number at the "
            "end"
        )
    libraries = _together(context, found)
    numbers = context.numbers(list(found))
    old, new = next(iter(libraries.items()))
    return Step(
        FIX.id,
        {},
        numbers,
        f"give materials of {numbers_text(numbers)} their names from frame {frame_text(series.reference_facts.number)}",
        (Change(f"frame {frame_text(numbers[0])}, material", old.display, new.display),),
        work=UnifiedNames({facts[index].number: names for index, names in found.items()}, libraries),
    )


def _names(context: CheckContext, index: int) -> Names:
    """Return the new names of a frame's materials, by old name.

    A material gets the name of a material of the reference frame if these two names differ only in the number at the
    end. Names that occur in both frames are left out.

    Raises:
        Refusal: A material could match more than one material of the reference frame.
    """
    base, own = context.series.reference_facts.materials, context.series.facts[index].materials
    gone = {name_stem(name): name for name in base if name not in own}
    stems = Counter(name_stem(name) for name in base if name not in own)
    strange = [name for name in own if name not in base and name_stem(name) in gone]
    unsure = [name for name in strange if stems[name_stem(name)] > 1 or _alike(name, strange) > 1]
    if unsure:
        number = frame_text(context.series.facts[index].number)
        raise Refusal(f"frame {number}: {unsure[0]} may match more than one material of the reference frame")
    return {name: gone[name_stem(name)] for name in strange}


def _alike(name: Name, names: list[Name]) -> int:
    return sum(name_stem(other) == name_stem(name) for other in names)


def _together(context: CheckContext, found: Mapping[int, Names]) -> Names:
    """Combine the new names of all frames.

    Raises:
        Refusal: The new names would change the material of a face.
    """
    together: dict[Name, Name] = {}
    reference = context.series.reference_index
    assert reference is not None
    for index, names in found.items():
        for old, new in names.items():
            if together.setdefault(old, new) != new:
                raise Refusal(f"{old} would become {new} in some frames and {together[old]} in other frames")
            ours, theirs = _content(context, reference, new), _content(context, index, old)
            if ours is not None and theirs is not None and ours != theirs:
                raise Refusal(f"{old} and {new} are defined in different ways, so they are not the same material")
    users = [(one, number) for number, one in enumerate(context.series.facts) if number not in found]
    users += [(one, -1) for series in context.siblings for one in series.facts]
    for one, _ in users:
        both = [name for name in one.materials if name in together]
        if both:
            raise Refusal(f"{both[0]} can't be renamed, because it is a different material in {one.file.name}")
    return together


def _content(context: CheckContext, index: int, name: Name) -> bytes | None:
    bodies = (use.library.bodies for use in context.materials(index).libraries if use.library is not None)
    return next((body[name] for body in bodies if name in body), None)


def edit_frame(frame: Frame, step: Step[UnifiedNames], number: Fraction) -> Frame:
    names = step.work.frames[number]
    draft = Draft(frame)
    for block in draft.blocks(b"usemtl"):
        draft.put(block, [(_line(body, names), end) for body, end in draft.lines(block)])
    return draft.done()


def _line(body: bytes, names: Names) -> bytes:
    keyword, blank, rest = body.partition(b"usemtl")
    new = names.get(Name(rest.strip(b" \t\x0b\x0c")))
    return body if new is None else keyword + blank + b" " + new.raw


def edit_assets(assets: Assets, step: Step[UnifiedNames], _: CheckContext) -> Assets:
    """Rename the materials in the libraries. Of several definitions with the same new name, only one is kept."""
    names = step.work.libraries
    libraries = {
        place: renamed(entry, names) if set(names) & set(entry.library.materials) else entry
        for place, entry in assets.libraries.items()
    }
    return replace(assets, libraries=libraries)


FIX = Fix(
    id="unify-material-names",
    title="Give a material one name",
    kind=FixKind.LOSSLESS,
    does="Gives a material its name from the reference frame, in frames and libraries, if only the number at the end "
    "of the name differs on some frames (skin.001, skin.002). If several definitions then have the same name, only one "
    "is kept.",
    cost="",
    touches=frozenset({b"usemtl"}),
    claims=frozenset({Claim.MATERIAL_NAMES}),
    plan=plan,
    edit_frame=edit_frame,
    edit_assets=edit_assets,
)
