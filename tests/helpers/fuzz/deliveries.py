"""Comparison of deliveries with their sources, by an independent reader.

Text that no fix changes must stay the same. Text that a fix changes must match the description of the fix.

Run by hand: `python -m tests.helpers.fuzz.deliveries [--cases 3000] [--seed N] [--first CASE]`
"""

from __future__ import annotations

import json
import math
import random
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from difflib import unified_diff
from fractions import Fraction
from pathlib import Path
from typing import Any

from inspector.delivery.choices import Choice, all_choices, lossless_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.plan import Plan
from inspector.delivery.planning import make_plan
from inspector.errors import Refusal
from inspector.inspection.inspection import FolderInspection, inspect_folder
from tests.helpers.fuzz.by_hand import main
from tests.helpers.fuzz.obj_words import Corner, Face, Words, words_of
from tests.helpers.fuzz.written_scenes import scene

Values = list[tuple[Fraction, ...]]
Step = Mapping[str, Any]

TOUCHES: Mapping[str, frozenset[str]] = {
    **{fix: frozenset({"v"}) for fix in ("scale", "offset", "align", "align-outlier", "reduce-decimals")},
    **{fix: frozenset({"vn"}) for fix in ("flip-normals", "unit-normals")},
    **{fix: frozenset({"vt"}) for fix in ("uv-mirror", "uv-turn", "uv-into-square")},
    **{fix: frozenset({"vn", "corner vn"}) for fix in ("recompute-normals", "drop-normals")},
    **{fix: frozenset({"vt", "corner vt"}) for fix in ("uv-restore", "uv-grid", "uv-planar")},
    **{fix: frozenset({"faces"}) for fix in ("triangulate", "drop-duplicate-faces", "drop-degenerate-faces")},
    **{fix: frozenset({"v", "vn", "corner vn"}) for fix in ("fill-frames", "retime")},
    **{fix: frozenset() for fix in ("renumber", "reverse", "every-nth", "positive-indices", "drop-repeated-frames")},
    "up-axis": frozenset({"v", "vn"}),
    "handedness": frozenset({"v", "vn", "direction"}),
    "flip-winding": frozenset({"direction"}),
    "uv-shift-back": frozenset({"corner vt"}),
    "drop-unused-vertices": frozenset({"v count"}),
    "keep-objects": frozenset({"v count", "faces"}),
    "clean-text": frozenset({"rest"}),
}
"""The parts of a frame that each fix may change.

Source: the descriptions of the fixes for users, not the table with which the tool verifies deliveries.
"""

NOT_COMPARED = frozenset(
    {
        *("decimal-commas", "restore-order", "restore-faces", "uv-donor", "uv-nearest", "trim-loop", "drop-executable"),
        *("name-colour-map", "share-library", "clean-library", "unify-material-names", "drop-unused-materials"),
        *("neutral-material", "norm-statement", "opacity-statement", "colour-map-statement", "replace-missing-maps"),
        *("collect-textures", "portable-names"),
    }
)
"""Fixes whose deliveries are not compared with their sources. Most of them edit libraries and textures."""

WANTED: Sequence[tuple[str, Mapping[str, object]]] = (
    *(("scale", {"factor": factor}) for factor in (0.01, 0.3048, 7, 1000, 1 / 3)),
    *(("offset", offset) for offset in ({"x": 1.5}, {"y": -0.001, "z": 250}, {"to": "origin"})),
    *(("align", place) for place in ({"at": "centre"}, {"at": "ground", "up": "y"}, {"at": "ground", "up": "z"})),
    *(("up-axis", {"to": to}) for to in "yz"),
    *(("handedness", {"axis": axis}) for axis in "xyz"),
    *((fix, {}) for fix in ("unit-normals", "drop-normals", "reverse", "positive-indices", "clean-text")),
    *((fix, {}) for fix in ("triangulate", "drop-duplicate-faces", "drop-degenerate-faces", "drop-unused-vertices")),
    *((fix, {}) for fix in ("reduce-decimals", "fill-frames", "flip-normals", "uv-restore", "flip-winding")),
    *(("recompute-normals", how) for how in ({}, {"hard": 30}, {"weight": "area"})),
    *(("uv-mirror", {"axis": axis}) for axis in "uv"),
    *(("uv-turn", {"degrees": degrees}) for degrees in (90, 180, 270)),
    *(("uv-into-square", how) for how in ({}, {"aspect": 2})),
    *(("uv-grid", how) for how in ({}, {"aspect": 2})),
    *(("uv-planar", how) for how in ({}, {"axis": "z"})),
    *(("retime", {"from": 24, "to": to}) for to in (25, 30, 12)),
    *(("renumber", how) for how in ({"start": 1001}, {"padding": 6})),
    *(("every-nth", {"n": n}) for n in (2, 3)),
    *(("keep-objects", {"names": name}) for name in ("body", "fin")),
)


def run_case(folder: Path, chance: random.Random) -> frozenset[str]:
    """Deliver a random sequence, compare it with its source, and return the ids of the applied fixes.

    The result is empty if a fix was refused, or if the delivery could not be compared.
    """
    source, out = folder / "in", folder / "out"
    source.mkdir()
    files = scene(chance)
    for name, data in files.items():
        (source / name).write_bytes(data)
    plan = _plan(inspect_folder(source), chance)
    if plan is None or not plan.steps:
        return frozenset()
    try:
        deliver(plan, out)
    except Refusal:
        assert not out.exists()
        return frozenset()
    return compare(source, out)


def _plan(result: FolderInspection, chance: random.Random) -> Plan | None:
    what = chance.random()
    choices = list(lossless_choices(result) if what < 0.1 else all_choices(result) if what < 0.2 else ())
    if what >= 0.2:
        wanted = dict(chance.sample(WANTED, chance.choice([1, 1, 1, 2, 3])))
        choices = [Choice(fix, parameters) for fix, parameters in wanted.items()]
    try:
        return make_plan(result, choices)
    except Refusal:
        return None


def compare(source: Path, out: Path) -> frozenset[str]:
    """Compare every delivered frame with its sources. Return the ids of the fixes in the receipt.

    If one of the fixes is in NOT_COMPARED, nothing is compared, and the result is empty.
    """
    receipt = json.loads((out / "meshqc-receipt.json").read_text())
    steps = receipt["fixes"]
    if not NOT_COMPARED.isdisjoint(step["fix"] for step in steps):
        return frozenset()
    made = {entry["file"]: Fraction(str(entry["frame"])) for entry in receipt["invented"]}
    origins = {}
    before = {path.name: path.read_bytes() for path in sorted(source.glob("*.obj"))}
    for path in sorted(out.glob("*.obj")):
        names = _sources(receipt, path.name)
        origins[path.name] = names
        own = [step for step in steps if step["fix"] not in FILES or path.name in made]
        own = [step for step in own if step["fix"] in FILES or _number(names[0]) in step["frames"]]
        _frame(
            [before[name] for name in names],
            path.read_bytes(),
            own,
            _weights(path.name, made.get(path.name), names, steps),
        )
    _files(list(before), origins, steps, made)
    assert (out / "kelp.mtl").read_bytes() == (source / "kelp.mtl").read_bytes()
    return frozenset(step["fix"] for step in steps)


FILES = ("fill-frames", "retime", "renumber", "reverse", "every-nth", "drop-repeated-frames")
"""Fixes that determine which frames exist."""


def _sources(receipt: Mapping[str, Any], name: str) -> list[str]:
    digests = {entry["sha256"]: entry["path"] for entry in reversed(receipt["sources"])}
    (entry,) = (entry for entry in receipt["files"] if entry["path"] == name)
    return (
        [one["path"] for one in entry["before"]]
        if isinstance(entry["before"][0], dict)
        else [digests[digest] for digest in entry["before"]]
    )


def _number(name: str) -> int:
    return int(name.split(".")[1])


def _weights(name: str, at: Fraction | None, sources: list[str], steps: Sequence[Step]) -> list[Fraction]:
    """Return the weight of each source of a frame. It is linear in time, as `fill-frames` and `retime` state.

    `at` is the frame number before any renumbering if the receipt lists the frame as invented; otherwise None.
    """
    if len(sources) == 1:
        return [Fraction(1)]
    assert at is not None, "a frame of several sources is not called made"
    for step in steps:
        if step["fix"] == "retime":
            first = min(step["frames"])
            at = first + (_number(name) - first) * Fraction(step["parameters"]["from"]) / Fraction(
                step["parameters"]["to"]
            )
    one, other = map(_number, sources)
    return [(other - at) / (other - one), (at - one) / (other - one)]


def _files(
    before: list[str], origins: Mapping[str, list[str]], steps: Sequence[Step], made: Mapping[str, Fraction]
) -> None:
    """Check that each source is used once, unless a fix drops it. After `reverse`, check the order as well. After
    `retime`, check nothing."""
    by = {step["fix"]: step["parameters"] for step in steps if step["fix"] in FILES}
    kept = [names[0] for name, names in origins.items() if name not in made]
    wanted = [name for name in sorted(before, key=_number) if _number(name) not in made.values()]
    if "retime" in by:
        return  # the weights determine the time of each frame
    if "every-nth" in by:
        step = int(by["every-nth"]["n"])
        first = _number(wanted[0])
        wanted = [name for name in wanted if (_number(name) - first) % step == 0]
    if "reverse" in by:
        wanted = wanted[::-1]
    if "drop-repeated-frames" in by:  # either of two equal files may be kept
        assert list(map(_number, kept)) == sorted(set(map(_number, wanted))), (kept, wanted)
        return
    assert Counter(kept) == Counter(wanted), (kept, wanted)
    if "reverse" in by:
        assert kept == wanted, (kept, wanted)


def _frame(before: list[bytes], after: bytes, steps: Sequence[Step], weights: list[Fraction]) -> None:
    touched = frozenset[str]().union(*(TOUCHES[step["fix"]] for step in steps))
    if not steps:
        assert after == before[0], "no fix, and other bytes"
        return
    old, new = [words_of(data) for data in before], words_of(after)
    first = old[0]
    if "rest" not in touched:
        ours, theirs = ([line for line in words.rest if line.strip()] for words in (first, new))
        assert ours == theirs, [*unified_diff(ours, theirs, n=0)]
    if "v count" in touched:
        _same_positions_by_faces(first, new, touched)
        return
    if "v" not in touched:
        assert new.vertices == first.vertices
    else:
        assert [row[3:] for row in new.vertices] == [row[3:] for row in first.vertices]
    if "vt" not in touched:
        assert new.uvs == first.uvs
    if "vn" not in touched:
        assert new.normals == first.normals
    if "faces" not in touched:
        assert [face.state for face in new.faces] == [face.state for face in first.faces]
        for face, was in zip(new.faces, first.faces, strict=True):
            _same_face(face.corners, was.corners, touched)
    _values(old, new, steps, weights)
    for step in steps:
        if step["fix"] in CHECKS:
            CHECKS[step["fix"]](first, new, touched)


def _kept(corners: Sequence[Corner], touched: frozenset[str]) -> list[Corner]:
    vt, vn = "corner vt" not in touched, "corner vn" not in touched
    return [(corner[0], corner[1] if vt else None, corner[2] if vn else None) for corner in corners]


def _same_face(corners: Sequence[Corner], was: Sequence[Corner], touched: frozenset[str]) -> None:
    found, wanted = _kept(corners, touched), _kept(was, touched)
    if "direction" in touched:  # a reversed face may start anywhere; each corner keeps its UV and normal
        around = [[*one[at:], *one[:at]] for one in (wanted, wanted[::-1]) for at in range(len(wanted))]
        assert found in around, (corners, was)
    else:
        assert found == wanted, (corners, was)


def _same_positions_by_faces(old: Words, new: Words, touched: frozenset[str]) -> None:
    """Check that the positions at the faces' corners have the same text, even if vertices were removed."""
    if "v" in touched:
        return
    faces = [_by_text(new, face, touched) for face in new.faces]
    wanted = [_by_text(old, face, touched) for face in old.faces]
    if "faces" in touched:
        left = iter(wanted)
        assert all(face in left for face in faces), "a face that was not there, or in another order"
    else:
        assert faces == wanted


def _by_text(words: Words, face: Face, touched: frozenset[str]) -> tuple[object, ...]:
    return (face.state, *((words.vertices[v], vt, vn) for v, vt, vn in _kept(face.corners, touched)))


def _values(old: list[Words], new: Words, steps: Sequence[Step], weights: list[Fraction]) -> None:
    by = {step["fix"]: step["parameters"] for step in steps}
    touched = frozenset[str]().union(*(TOUCHES[fix] for fix in by))
    if "v" in touched and "align-outlier" not in by:
        _positions(old, new, by, weights)
    if "vn" in touched and not {"recompute-normals", "drop-normals", "fill-frames", "retime"} & by.keys():
        normals = _turned([_numbers(row) for row in old[0].normals], by)
        if "unit-normals" in by:
            lengths = [Fraction(math.sqrt(sum(value * value for value in row))) for row in normals]
            normals = [tuple(value / size for value in row) for row, size in zip(normals, lengths, strict=True)]
        if "flip-normals" in by:
            normals = [tuple(-value for value in row) for row in normals]
        _near(new.normals, normals, _rounding(old[0].normals))
    if "vt" in touched and not {"uv-restore", "uv-grid", "uv-planar"} & by.keys():
        scales = [Fraction(by.get("uv-into-square", {}).get(f"scale_{axis}", 1)) for axis in "uv"]
        room = _rounding([row[:2] for row in old[0].uvs]) * min(Fraction(1), *scales)
        _near(new.uvs, [_uv(_numbers(row), by) for row in old[0].uvs], room)


def _positions(old: list[Words], new: Words, by: Mapping[str, Any], weights: list[Fraction]) -> None:
    """Check positions. The tool blends, moves, scales and turns them, in this order."""
    rows = zip(*(one.vertices for one in old), strict=True)
    blended = [tuple(_blend([Fraction(row[at]) for row in several], weights) for at in range(3)) for several in rows]
    room = _rounding([row[:3] for one in old for row in one.vertices])
    if "reduce-decimals" in by:
        room = max(room, Fraction(501, 1000 * 10 ** int(by["reduce-decimals"]["decimals"])))
    shift = [Fraction(by.get("offset", {}).get(axis, 0)) for axis in "xyz"]
    aligned = by.get("align", {"offset": [0, 0, 0]})["offset"]
    shift = [a + Fraction(b) for a, b in zip(shift, aligned, strict=True)]
    factor = Fraction(by["scale"]["factor"]) if "scale" in by else Fraction(1)
    moved = [tuple((a + b) * factor for a, b in zip(row, shift, strict=True)) for row in blended]
    size = max(map(abs, [*shift, *(value for row in blended for value in row)]))  # float64 has 53 bits
    _near(new.vertices, _turned(moved, by), room * min(factor, Fraction(1)) + size * factor / 10**15)


def _blend(values: Sequence[Fraction], weights: Sequence[Fraction]) -> Fraction:
    return sum((value * weight for value, weight in zip(values, weights, strict=True)), Fraction())


def _rounding(rows: Sequence[Sequence[str]]) -> Fraction:
    """Return 0.501 units in the last decimal place of the most precise number: 0.5 for decimal rounding, 0.001 for
    binary rounding."""
    return Fraction(501, 1000 * 10 ** max((_decimals(word) for row in rows for word in row), default=0))


def _numbers(row: Sequence[str]) -> tuple[Fraction, ...]:
    return tuple(map(Fraction, row))


def _turned(rows: Sequence[tuple[Fraction, ...]], by: Mapping[str, Any]) -> Values:
    """Turn and mirror positions or normals, as the descriptions of `up-axis` and `handedness` state.

    On a turn to z-up, +y becomes +z and +z becomes -y; on a turn to y-up, the reverse. Mirroring changes one sign.
    """
    found = [tuple(row[:3]) for row in rows]
    if "up-axis" in by:
        up = by["up-axis"]["to"]
        found = [(x, -z, y) if up == "z" else (x, z, -y) for x, y, z in found]
    if "handedness" in by:
        axis = "xyz".index(by["handedness"]["axis"])
        found = [tuple(-value if at == axis else value for at, value in enumerate(row)) for row in found]
    return found


def _uv(row: tuple[Fraction, ...], by: Mapping[str, Any]) -> tuple[Fraction, ...]:
    """Apply fixes to a UV: move it into the unit square, mirror it, and turn it counter-clockwise about the middle."""
    u, v, *depth = row
    if "uv-into-square" in by:
        constants = by["uv-into-square"]
        u = u * Fraction(constants["scale_u"]) + Fraction(constants["shift_u"])
        v = v * Fraction(constants["scale_v"]) + Fraction(constants["shift_v"])
    if "uv-mirror" in by:
        u, v = (1 - u, v) if by["uv-mirror"]["axis"] == "u" else (u, 1 - v)
    for _ in range(int(by.get("uv-turn", {"degrees": 0})["degrees"]) // 90):
        u, v = 1 - v, u
    return (u, v, *depth)


def _near(found: Sequence[Sequence[str]], expected: Values, room: Fraction) -> None:
    assert len(found) == len(expected)
    for words, row in zip(found, expected, strict=True):
        for word, value in zip(words, row, strict=False):
            assert abs(Fraction(word) - value) <= room, (word, float(value), float(room))


def _decimals(word: str) -> int:
    """Return the number of decimal places that a written number has: 2 for 1.50, 4 for 1.5e-3."""
    digits, _, exponent = word.lower().partition("e")
    return max(0, len(digits.partition(".")[2]) - int(exponent or 0))


def _check_normals(_: Words, new: Words, __: frozenset[str]) -> None:
    for row in new.normals:
        assert abs(math.hypot(*map(float, row)) - 1.0) < 1e-5, row
    assert all(corner[2] is not None for face in new.faces for corner in face.corners)


def _check_no_normals(_: Words, new: Words, __: frozenset[str]) -> None:
    assert not new.normals
    assert all(corner[2] is None for face in new.faces for corner in face.corners)


def _check_triangles(old: Words, new: Words, touched: frozenset[str]) -> None:
    """Check that each face that has n corners was replaced by n - 2 triangles.

    The triangles must have the face's winding, corners and outer edges. Each inner edge must occur once in each
    direction.
    """
    left = list(new.faces)
    for face in old.faces:
        own = [left.pop(0) for _ in range(len(face.corners) - 2)]
        assert all(len(one.corners) == 3 and one.state == face.state for one in own)
        edges = Counter(edge for one in own for edge in _edges(_kept(one.corners, touched)))
        outline = Counter(_edges(_kept(face.corners, touched)))
        assert edges - _backwards(edges) == outline - _backwards(outline)
    assert not left


def _backwards(edges: Counter[tuple[Corner, Corner]]) -> Counter[tuple[Corner, Corner]]:
    return Counter({(b, a): count for (a, b), count in edges.items()})


def _edges(corners: Sequence[Corner]) -> list[tuple[Corner, Corner]]:
    return [(corners[at - 1], corners[at]) for at in range(len(corners))]


def _check_subset(old: Words, new: Words, _: frozenset[str]) -> None:
    """Check that no face was added, and that the states of the remaining faces are in the same order as before."""
    left = iter([face.state for face in old.faces])
    assert len(new.faces) <= len(old.faces)
    assert all(face.state in left for face in new.faces)


def _check_distinct(old: Words, new: Words, touched: frozenset[str]) -> None:
    """Check that, of all faces with the same vertices, only the first was kept."""
    first = {frozenset(corner[0] for corner in face.corners): face for face in reversed(old.faces)}
    wanted = [face for face in old.faces if first[frozenset(corner[0] for corner in face.corners)] is face]
    assert len(new.faces) == len(wanted)
    for face, was in zip(new.faces, wanted, strict=True):
        assert face.state == was.state
        _same_face(face.corners, was.corners, touched)


CHECKS: Mapping[str, Callable[[Words, Words, frozenset[str]], None]] = {
    "recompute-normals": _check_normals,
    "drop-normals": _check_no_normals,
    "triangulate": _check_triangles,
    "drop-degenerate-faces": _check_subset,
    "drop-duplicate-faces": _check_distinct,
}
"""For each fix, an additional check of the faces and normals of a corrected frame."""


if __name__ == "__main__":
    main(run_case, 3_000)
