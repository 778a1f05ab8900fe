"""What the delivery rules demand, each held against a sequence. One function a key of rules/keys.py."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from inspector import limits
from inspector.checks.base.check import NotApplicable
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Where
from inspector.checks.base.helpers import count_of, files, usable, usable_where
from inspector.checks.base.textures import Texture, textures
from inspector.checks.scale_suspect import agrees
from inspector.formats.frame import FloatArray
from inspector.names import Name
from inspector.sequence.facts import FrameFacts
from inspector.sequence.settings import frame_text


@dataclass(frozen=True, slots=True)
class Breach:
    """A demand that isn't met: in plain words, at which indices, where, and the number that shows it."""

    message: str
    indices: list[int]
    found: float | str
    where: tuple[Where, ...] = ()
    fixes: tuple[str, ...] = ()


Judge = Callable[[Evidence, Any], Iterator[Breach]]


def _range(evidence: Evidence, _: object) -> Iterator[Breach]:
    """Frames outside; those that lack are told by missing-frames."""
    assert evidence.settings.expected is not None  # stated by the rules, or in their place
    first, last = evidence.settings.expected
    numbers = [facts.number for facts in evidence.series.facts]
    outside = [index for index, number in enumerate(numbers) if not first <= number <= last]
    if outside:
        words = f"{count_of(len(outside), 'frame')} outside the range {frame_text(first)}-{frame_text(last)}"
        yield Breach(words, outside, float(numbers[outside[0]]), files(evidence, outside))


def _padding(evidence: Evidence, digits: int) -> Iterator[Breach]:
    stem = len(evidence.series.sequence.stem.raw)
    other = []
    for index, facts in enumerate(evidence.series.facts):
        written = facts.file.name.raw[stem:].partition(b".")[0]
        if len(written) != max(digits, len(str(int(facts.number)))):
            other.append(index)
    if other:
        name = evidence.file_name(other[0])
        words = f"{count_of(len(other), 'file')} with other than {digits} digits for the frame number, first {name}"
        yield Breach(words, other, len(other), files(evidence, other), ("renumber",))


def _most_frames(evidence: Evidence, most: int) -> Iterator[Breach]:
    count = len(evidence.series.facts)
    if count > most:
        yield Breach(f"{count_of(count, 'frame')}, {most:,} at most", list(range(count)), count)


def _all_bytes(evidence: Evidence, most: int) -> Iterator[Breach]:
    total = sum(facts.file.size for facts in evidence.series.facts)
    if total > most:
        everything = list(range(len(evidence.series.facts)))
        yield Breach(f"{total:,} bytes in all frames, {most:,} at most", everything, total)


def _corners(evidence: Evidence, allowed: tuple[int, ...]) -> Iterator[Breach]:
    """Looked at once for each distinct state of the faces."""
    states: dict[bytes, list[int]] = {}
    for index in usable(evidence):
        states.setdefault(evidence.series.facts[index].topology, []).append(index)
    other: list[int] = []
    found: dict[int, None] = {}
    for indices in states.values():
        sizes = {int(size) for size in evidence.frame(indices[0]).corners.sizes} - set(allowed)
        if sizes:
            other += indices
            found |= dict.fromkeys(sorted(sizes))
    if other:
        listed = ", ".join(map(str, sorted(found)[: limits.PLACES_KEPT]))
        words = f"faces of {listed} corners; allowed are {', '.join(map(str, allowed))}"
        fixes = ("triangulate",) if 3 in allowed and min(found) > 3 else ()
        yield Breach(words, sorted(other), max(found), files(evidence, sorted(other)), fixes)


def _exactly(thing: str, count: Callable[[FrameFacts], int]) -> Judge:
    def judge(evidence: Evidence, wanted: int) -> Iterator[Breach]:
        other = usable_where(evidence, lambda facts: count(facts) != wanted)
        if other:
            there = count(evidence.series.facts[other[0]])
            yield Breach(f"{there:,} {thing}, {wanted:,} are wanted", other, there, files(evidence, other))

    return judge


def _at_most(thing: str, count: Callable[[FrameFacts], int]) -> Judge:
    def judge(evidence: Evidence, most: int) -> Iterator[Breach]:
        facts = evidence.series.facts
        more = [index for index, one in enumerate(facts) if count(one) > most]
        if more:
            largest = max(count(facts[index]) for index in more)
            yield Breach(f"up to {largest:,} {thing}, {most:,} at most", more, largest, files(evidence, more))

    return judge


def _presence(
    thing: str,
    lacks: Callable[[FrameFacts], bool],
    has: Callable[[FrameFacts], bool],
    lacking: str = "",
    having: str = "",
) -> Judge:
    """lacking, having: fixes that answer what is required and lacks, and what is forbidden and there."""

    def judge(evidence: Evidence, wanted: str) -> Iterator[Breach]:
        required = wanted == "required"
        other = usable_where(evidence, lacks if required else has)
        if other:
            words = f"faces without {thing}, which are required" if required else f"{thing}, which are forbidden"
            fix = lacking if required else having
            yield Breach(words, other, len(other), files(evidence, other), (fix,) if fix else ())

    return judge


def _material_names(evidence: Evidence, allowed: tuple[str, ...]) -> Iterator[Breach]:
    known = {Name.from_path(name) for name in allowed}
    other = usable_where(evidence, lambda facts: not known.issuperset(facts.materials))
    if other:
        strange = next(name for name in evidence.series.facts[other[0]].materials if name not in known)
        yield Breach(f"material `{strange}` is none of those agreed on", other, strange.display, files(evidence, other))


def _sides(evidence: Evidence) -> FloatArray:
    """Sides of the reference's box along x, y, z, scene units. Raises NotApplicable without one."""
    if evidence.series.reference is None or evidence.series.base.box is None:
        raise NotApplicable("the reference frame has no size")
    low, high = evidence.series.boxes[evidence.series.reference]
    return np.asarray(high - low)


def _size(evidence: Evidence, _: object) -> Iterator[Breach]:
    """What the command line states beats the rules."""
    wanted, size = evidence.settings.size or 0.0, float(_sides(evidence).max())
    if not agrees(size, wanted, limits.STATED_SIZE):
        words = f"longest side {size:.4g} units, {wanted:.4g} is wanted"
        yield Breach(words, list(range(len(evidence.series.facts))), size, fixes=("scale",))


def _up(evidence: Evidence, axis: str) -> Iterator[Breach]:
    sides, wanted = _sides(evidence), evidence.settings.rules.value("scene.height")
    assert isinstance(wanted, float)
    height = float(sides["xyz".index(axis)])
    fitting = [name for name, side in zip("xyz", sides, strict=True) if agrees(float(side), wanted, limits.STATED_SIZE)]
    if axis not in fitting:
        turned = f"; along {fitting[0]} it is: does {fitting[0]} point up?" if len(fitting) == 1 else ""
        words = f"{height:.4g} units high along {axis}, {wanted:.4g} is wanted{turned}"
        yield Breach(words, list(range(len(evidence.series.facts))), height, fixes=("up-axis",) if turned else ())


def _all_sides(evidence: Evidence, wanted: tuple[float, ...]) -> Iterator[Breach]:
    sides = [float(side) for side in _sides(evidence)]
    if all(agrees(side, other, limits.STATED_SIZE) for side, other in zip(sides, wanted, strict=True)):
        return
    alike = all(
        agrees(side, other, limits.STATED_SIZE) for side, other in zip(sorted(sides), sorted(wanted), strict=True)
    )
    shown, listed = (" x ".join(f"{side:.4g}" for side in some) for some in (sides, wanted))
    turned = ": the same sides along other axes, so the object is turned" if alike else ""
    words = f"sides of {shown} units along x, y, z, {listed} are wanted{turned}"
    yield Breach(words, list(range(len(evidence.series.facts))), shown, fixes=("up-axis",) if alike else ())


def _textures(words: str, wrong: Callable[[tuple[int, int], Any], bool]) -> Judge:
    def judge(evidence: Evidence, wanted: object) -> Iterator[Breach]:
        other = [one for one in _measured(evidence) if wrong(one.facts.size or (0, 0), wanted)]
        if other:
            first = other[0]
            width, height = first.facts.size or (0, 0)
            indices = sorted({index for one in other for usage in one.usages for index in usage.indices})
            said = f"texture {first.file} of {width:,} x {height:,} pixels, {words.format(wanted)}"
            where = tuple(Where(one.file) for one in other[: limits.PLACES_KEPT])
            yield Breach(said, indices, max(width, height), where)

    return judge


def _measured(evidence: Evidence) -> list[Texture]:
    try:
        return [one for one in textures(evidence) if one.facts.size is not None]
    except NotApplicable:
        return []


def _odd_size(size: tuple[int, int], _: object) -> bool:
    return any(side & (side - 1) for side in size)


JUDGES: Mapping[str, Judge] = {
    "frames.range": _range,
    "frames.padding": _padding,
    "frames.most": _most_frames,
    "frames.most_bytes": _all_bytes,
    "mesh.corners": _corners,
    "mesh.vertices": _exactly("vertices", lambda facts: facts.vertices),
    "mesh.faces": _exactly("faces", lambda facts: facts.faces),
    "mesh.most_vertices": _at_most("vertices", lambda facts: facts.vertices),
    "mesh.most_bytes": _at_most("bytes in a file", lambda facts: facts.file.size),
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
        lambda facts: facts.problem("bare-face") is not None,
        lambda facts: bool(facts.materials),
    ),
    "mesh.material_names": _material_names,
    "scene.size": _size,
    "scene.up": _up,
    "scene.sides": _all_sides,
    "textures.most_side": _textures("{:,} at most", lambda size, most: max(size) > most),
    "textures.power_of_two": _textures("no powers of two", _odd_size),
}
"""Key -> what judges it. frames.rate, scene.unit and scene.height are nothing that a file shows by itself."""
