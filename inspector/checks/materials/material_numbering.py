"""Materials whose names end in different numbers on different frames."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, count_of, files, usable
from inspector.checks.base.numbered_names import name_stem
from inspector.formats.format import Trait
from inspector.names import Name


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context).materials
    if not base:
        raise NotApplicable("the faces of the reference frame have no material")
    other: dict[int, tuple[Name, Name]] = {}
    for index in usable(context):
        renamed = _renamed(base, context.series.facts[index].materials)
        if renamed is not None:
            other[index] = renamed
    if not other:
        return
    indices = list(other)
    was, now = other[indices[0]]
    spellings = len({name for _, name in other.values()} | {was})
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"the reference frame's material `{was.display}` has a name with a different number in other frames, for "
        f"example `{now.display}` ({count_of(spellings, 'name')} in all)",
        context.numbers(indices),
        files(context, indices),
        {"names": spellings, "reference": was.display, "first": now.display},
        CHECK.fixes,
    )


def _renamed(base: tuple[Name, ...], found: tuple[Name, ...]) -> tuple[Name, Name] | None:
    """Find a material whose name ends in a different number than in the reference frame, and return both names.

    The result is None if there is no such material.
    """
    there, known = set(found), set(base)
    gone = {name_stem(name): name for name in base if name not in there}
    new = (name for name in found if name not in known)
    return next(((gone[name_stem(name)], name) for name in new if name_stem(name) in gone), None)


CHECK = Check(
    id="material-numbering",
    title="Numbered material names",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="The number at the end of a material's name changes between frames (skin, skin.001, skin.002), because "
        "the exporter created a new material for each frame.",
        after_import="A shader that was assigned by name on one frame is lost on the other frames. They show the "
        "default shader.",
        what_to_do="Use one material for all frames. In the scene, delete the copies of the material, or export all "
        "frames from one scene file.",
    ),
    run=run,
    fixes=("unify-material-names",),
    scope=CheckScope.SEQUENCE,
)
