"""Functions that judge whether a sequence meets the delivery rules (see rules/rule_keys.py)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.breach import Breach, Judge
from inspector.checks.base.caption_demands import CAPTION_JUDGES
from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of, files, usable, usable_where
from inspector.checks.base.sizes import STATED_SIZE, agrees
from inspector.checks.base.texture_demands import TEXTURE_JUDGES
from inspector.names import Name, amount, joined_words
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts


def _range(context: CheckContext, _: object) -> Iterator[Breach]:
    """Find frames outside the frame range; `missing-frames` reports missing frames."""
    assert context.settings.expected is not None  # from the rules, or from the command line instead
    first, last = context.settings.expected
    numbers = [facts.number for facts in context.series.facts]
    outside = [index for index, number in enumerate(numbers) if not first <= number <= last]
    if outside:
        are = "is" if len(outside) == 1 else "are"
        words = f"{count_of(len(outside), 'frame')} {are} outside the range {frame_text(first)}-{frame_text(last)}"
        yield Breach(words, outside, float(numbers[outside[0]]), files(context, outside))


def _padding(context: CheckContext, digits: int) -> Iterator[Breach]:
    stem = len(context.series.sequence.stem.raw)
    other = []
    for index, facts in enumerate(context.series.facts):
        written = facts.file.name.raw[stem:].partition(b".")[0]
        if len(written) != max(digits, len(str(int(facts.number)))):
            other.append(index)
    if other:
        name = context.file_name(other[0])
        wanted = count_of(digits, "digit")
        words = f"the frame number of {name} doesn't have {wanted}"
        if len(other) > 1:
            words = f"the frame numbers of {len(other):,} files don't have {wanted}; the first of these files is {name}"
        yield Breach(words, other, len(other), files(context, other), ("renumber",))


def _most_frames(context: CheckContext, most: int) -> Iterator[Breach]:
    count = len(context.series.facts)
    if count > most:
        yield Breach(f"the sequence has {count_of(count, 'frame')}; the maximum is {most:,}", list(range(count)), count)


def _all_bytes(context: CheckContext, most: int) -> Iterator[Breach]:
    total = sum(facts.file.size for facts in context.series.facts)
    if total > most:
        everything = list(range(len(context.series.facts)))
        words = f"the files of all frames together have {total:,} bytes; the maximum is {most:,}"
        yield Breach(words, everything, total)


def _corners(context: CheckContext, allowed: tuple[int, ...]) -> Iterator[Breach]:
    """Judge the number of corners of each face, once per distinct topology."""
    states: dict[bytes, list[int]] = {}
    for index in usable(context):
        states.setdefault(context.series.facts[index].topology, []).append(index)
    other: list[int] = []
    found: dict[int, None] = {}
    for indices in states.values():
        sizes = {int(size) for size in context.frame(indices[0]).corners.sizes} - set(allowed)
        if sizes:
            other += indices
            found |= dict.fromkeys(sorted(sizes))
    if other:
        listed = joined_words([str(size) for size in sorted(found)[: limits.PLACES_KEPT]], "or")
        required = joined_words([str(size) for size in allowed], "or")
        words = f"some faces have {listed} corners, but must have {required}"
        fixes = ("triangulate",) if 3 in allowed and min(found) > 3 else ()
        yield Breach(words, sorted(other), max(found), files(context, sorted(other)), fixes)


def _exactly(thing: str, count: Callable[[FrameFacts], int]) -> Judge:
    def judge(context: CheckContext, wanted: int) -> Iterator[Breach]:
        other = usable_where(context, lambda facts: count(facts) != wanted)
        if other:
            there = count(context.series.facts[other[0]])
            words = f"the mesh has {count_of(there, thing)} instead of {wanted:,}"
            yield Breach(words, other, there, files(context, other))

    return judge


def _at_most(thing: str, count: Callable[[FrameFacts], int]) -> Judge:
    def judge(context: CheckContext, most: int) -> Iterator[Breach]:
        facts = context.series.facts
        more = [index for index, one in enumerate(facts) if count(one) > most]
        if more:
            largest = max(count(facts[index]) for index in more)
            words = f"up to {largest:,} {thing} were found; the rules allow at most {most:,}"
            yield Breach(words, more, largest, files(context, more))

    return judge


def _presence(
    thing: str,
    is_missing: Callable[[FrameFacts], bool],
    is_present: Callable[[FrameFacts], bool],
    fix_if_missing: str = "",
    fix_if_present: str = "",
) -> Judge:
    """Make a function that judges content which the rules require or forbid.

    Args:
        thing: Name of the content, in the plural.
        is_missing: Function that returns whether a frame has a face without the content.
        is_present: Function that returns whether a frame has any of the content.
        fix_if_missing: Id of the fix for missing content; "" if there is none.
        fix_if_present: Id of the fix for forbidden content; "" if there is none.
    """

    def judge(context: CheckContext, wanted: str) -> Iterator[Breach]:
        required = wanted == "required"
        other = usable_where(context, is_missing if required else is_present)
        if other:
            words = (
                f"some faces have no {thing}, but {thing} are required"
                if required
                else f"there are {thing}, but {thing} are forbidden"
            )
            fix = fix_if_missing if required else fix_if_present
            yield Breach(words, other, len(other), files(context, other), (fix,) if fix else ())

    return judge


def _material_names(context: CheckContext, allowed: tuple[str, ...]) -> Iterator[Breach]:
    known = {Name.from_path(name) for name in allowed}
    other = usable_where(context, lambda facts: not known.issuperset(facts.materials))
    if other:
        strange = next(name for name in context.series.facts[other[0]].materials if name not in known)
        words = f"material `{strange}` is not on the list of allowed names"
        yield Breach(words, other, strange.display, files(context, other))


def _sides(context: CheckContext) -> Floats:
    """Return the sides of the reference frame's bounding box, (3,), in scene units.

    Raises:
        NotApplicable: There is no reference frame, or it has no bounding box.
    """
    if context.series.reference_index is None or context.series.reference_facts.box is None:
        raise NotApplicable("the size of the reference frame is unknown")
    low, high = context.series.boxes[context.series.reference_index]
    return np.asarray(high - low)


def _size(context: CheckContext, _: object) -> Iterator[Breach]:
    """Judge the longest side of the object. A size stated on the command line takes precedence over the rules."""
    wanted, size = context.settings.size or 0.0, float(_sides(context).max())
    if not agrees(size, wanted, context.limit(STATED_SIZE)):
        words = f"the longest side of the object is {amount(size, 'unit')} long, but must be {amount(wanted, 'unit')}"
        yield Breach(words, list(range(len(context.series.facts))), size, fixes=("scale",))


def _up(context: CheckContext, axis: str) -> Iterator[Breach]:
    sides, wanted = _sides(context), context.settings.rules.value("scene.height")
    assert isinstance(wanted, float)
    height = float(sides["xyz".index(axis)])
    fitting = [
        name for name, side in zip("xyz", sides, strict=True) if agrees(float(side), wanted, context.limit(STATED_SIZE))
    ]
    if axis not in fitting:
        turned = f" (the side along {fitting[0]} matches: does {fitting[0]} point up?)" if len(fitting) == 1 else ""
        words = f"the object is {amount(height, 'unit')} high along {axis} instead of {amount(wanted, 'unit')}{turned}"
        yield Breach(words, list(range(len(context.series.facts))), height, fixes=("up-axis",) if turned else ())


def _all_sides(context: CheckContext, wanted: tuple[float, ...]) -> Iterator[Breach]:
    sides = [float(side) for side in _sides(context)]
    if all(agrees(side, other, context.limit(STATED_SIZE)) for side, other in zip(sides, wanted, strict=True)):
        return
    alike = all(
        agrees(side, other, context.limit(STATED_SIZE))
        for side, other in zip(sorted(sides), sorted(wanted), strict=True)
    )
    shown, listed = (" x ".join(f"{side:.4g}" for side in some) for some in (sides, wanted))
    turned = " (the lengths match along other axes: the object is rotated)" if alike else ""
    words = f"the sides along x, y and z are {shown} units long, but must be {listed} units long{turned}"
    yield Breach(words, list(range(len(context.series.facts))), shown, fixes=("up-axis",) if alike else ())


_OF_SEQUENCES: Mapping[str, Judge] = {
    "frames.range": _range,
    "frames.padding": _padding,
    "frames.most": _most_frames,
    "frames.most_bytes": _all_bytes,
    "mesh.corners": _corners,
    "mesh.vertices": _exactly("vertex", lambda facts: facts.vertices),
    "mesh.faces": _exactly("face", lambda facts: facts.faces),
    "mesh.most_vertices": _at_most("vertices per frame", lambda facts: facts.vertices),
    "mesh.most_bytes": _at_most("bytes per file", lambda facts: facts.file.size),
    "mesh.uvs": _presence("UVs", lambda facts: facts.faces_without_uvs > 0, lambda facts: facts.uvs > 0),
    "mesh.normals": _presence(
        "normals",
        lambda facts: facts.faces_without_normals > 0,
        lambda facts: facts.normals > 0,
        "recompute-normals",
        "drop-normals",
    ),
    "mesh.materials": _presence(
        "materials",
        lambda facts: facts.problem("face-without-material") is not None,
        lambda facts: bool(facts.materials),
    ),
    "mesh.material_names": _material_names,
    "scene.size": _size,
    "scene.up": _up,
    "scene.sides": _all_sides,
}

JUDGES: Mapping[str, Judge] = {**_OF_SEQUENCES, **TEXTURE_JUDGES, **CAPTION_JUDGES}
"""The functions that judge a sequence, by key of the delivery rules. Four keys have no function: `frames.rate` and
`scene.unit`, because files don't state these values; `scene.height`, because the function for `scene.up` judges it; and
`captions.picture`, because it only sets the picture in which captions are judged.
"""
