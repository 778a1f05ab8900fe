"""Objects and groups whose names differ between frames."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, usable_where
from inspector.checks.base.libraries import name_changes
from inspector.formats.format import Trait
from inspector.names import Name
from inspector.sequence.measure.facts import FrameFacts

_KINDS: dict[str, Callable[[FrameFacts], tuple[Name, ...]]] = {
    "objects": lambda facts: facts.objects,
    "groups": lambda facts: facts.groups,
}


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    # face-count reports a part that is missing together with its faces.
    whole = usable_where(context, lambda facts: facts.faces == base.faces)
    met: set[int] = set()
    words, kinds, gone, new = [], [], 0, 0
    for kind, names in _KINDS.items():
        usual = set(names(base))
        others = [index for index in whole if set(names(context.series.facts[index])) != usual]
        if others:
            difference, missing, added = name_changes(usual, names(context.series.facts[others[0]]))
            words.append(f"the names of {kind} differ from the reference frame's ({difference})")
            kinds.append(kind)
            met |= set(others)
            gone, new = gone + missing, new + added
    if met:
        indices = sorted(met)
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            "; ".join(words),
            context.numbers(indices),
            files(context, indices),
            {"kind": " and ".join(kinds), "gone": gone, "new": new},
        )


CHECK = Check(
    id="groups-change",
    title="Objects or groups change",
    severity=Severity.WARNING,
    needs=(Trait.OBJECTS,),
    rationale=Rationale(
        what="The names of objects or groups differ from the reference frame's: names were added, dropped or changed.",
        after_import="Selections and shading by group name are lost on these frames. Readers that split the mesh by "
        "object create a new object for each name.",
        what_to_do="Give each object and group the same name for the whole animation, without frame numbers, and "
        "export again.",
    ),
    run=run,
)
