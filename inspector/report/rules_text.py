"""Write rules files (TOML 1.0): a commented template, or rules derived from a good sequence."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import groupby

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.textures import textures
from inspector.inspection.inspection import Inspection
from inspector.names import Name
from inspector.report.text import sequence_title
from inspector.rules.find import FILE_NAME
from inspector.rules.read import SEVERITIES
from inspector.rules.rule_keys import KEYS
from inspector.sequence.discovery.settings import frame_text

_START = f"""\
# Delivery rules for meshqc: what the receiving side requires. Save them as {FILE_NAME} in the folder of a shot or in
# a folder above it.
# Every line is optional. A rule can have a reason, which is shown with the findings of the rule:
#   corners = {{ value = [3, 4], reason = "the renderer splits larger faces in its own way" }}
# A line `reason = "..."` directly below the name of a table gives the reason for all rules in the table.
"""

_CHECKS = f"""
# Changes to the severities ({", ".join(SEVERITIES)}) and thresholds of checks. To list the checks, run meshqc checks.
[checks]
# frozen = "off"
# boundary-edges = {{ severity = "note", reason = "kelp is open at its root" }}
# size-jump = {{ thresholds = {{ jump-size = 1.3 }}, reason = "the jelly pulses strongly" }}
"""


def start_text() -> str:
    """Write a template for a rules file: all rules as comments, with their meanings and examples."""
    lines = [_START.rstrip("\n")]
    for section, names in groupby(KEYS, lambda name: name.partition(".")[0]):
        lines += ["", f"[{section}]"]
        for name in names:
            key = KEYS[name]
            lines += [f"# {key.meaning}: {key.allowed}", f"# {name.partition('.')[2]} = {key.example}"]
    return "\n".join(lines) + "\n" + _CHECKS


def derived_text(one: Inspection) -> str:
    """Write rules, derived from a good sequence, for the next export."""
    reason = _toml(f"as in {sequence_title(one.sequence)}, the last good export")
    lines = [f"# Delivery rules for meshqc, derived from {sequence_title(one.sequence)}. Save as {FILE_NAME}."]
    for section, rules in groupby(_derived(one), lambda rule: rule[0].partition(".")[0]):
        lines += ["", f"[{section}]", f"reason = {reason}"]
        lines += [f"{name.partition('.')[2]} = {_toml(value)}  # {KEYS[name].meaning}" for name, value in rules]
    return "\n".join(lines) + "\n"


def _derived(one: Inspection) -> Iterator[tuple[str, object]]:
    """Yield the key and the value of each derived rule, in the order of KEYS."""
    sequence, facts = one.sequence, one.series.facts
    yield "frames.range", "-".join(frame_text(file.number) for file in (sequence.files[0], sequence.files[-1]))
    yield "frames.padding", sequence.padding or 1
    sizes = {size for index in _distinct(one) for size in one.context.frame(index).corners.sizes.tolist()}
    yield "mesh.corners", sorted(sizes)
    for key in ("vertices", "faces"):
        counts = {getattr(frame, key) for frame in facts}
        if len(counts) == 1:
            yield f"mesh.{key}", counts.pop()
    if not any(frame.faces_without_uvs for frame in facts):
        yield "mesh.uvs", "required"
    if not any(frame.faces_without_normals for frame in facts):
        yield "mesh.normals", "required"
    if not any(frame.problem("face-without-material") for frame in facts):
        yield "mesh.materials", "required"
        yield from _material_names(sorted({name for frame in facts for name in frame.materials}))
    if one.series.reference_facts.box is not None:
        low, high = one.series.reference_facts.box[:3], one.series.reference_facts.box[3:]
        sides = [float(f"{end - start:.4g}") for start, end in zip(low, high, strict=True)]
        if min(sides) > 0:
            yield "scene.sides", sides
    yield from _most_side(one)


def _distinct(one: Inspection) -> list[int]:
    """Return the index of the first frame with each distinct topology."""
    first: dict[bytes, int] = {}
    for index, facts in enumerate(one.series.facts):
        first.setdefault(facts.topology, index)
    return list(first.values())


def _material_names(names: list[Name]) -> Iterator[tuple[str, object]]:
    """Yield the rule on material names, unless there are no names or a name has non-printable characters."""
    texts = [name.text for name in names]
    if texts and all(text.isprintable() for text in texts):
        yield "mesh.material_names", texts


def _most_side(one: Inspection) -> Iterator[tuple[str, object]]:
    try:
        sizes = [texture.facts.size for texture in textures(one.context) if texture.facts.size]
    except NotApplicable:
        return
    if sizes:
        yield "textures.most_side", max(map(max, sizes))


def _toml(value: object) -> str:
    """Write a string, a number or a list of these as JSON, which is also valid TOML."""
    return json.dumps(value, ensure_ascii=False)
