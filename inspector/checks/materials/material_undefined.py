"""Materials that faces use but no library defines."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, usable
from inspector.checks.base.libraries import Subject
from inspector.checks.base.numbered_names import name_stem
from inspector.formats.format import Trait
from inspector.names import Name


def run(context: CheckContext) -> Iterator[Finding]:
    users: dict[tuple[tuple[bytes, ...], bool], list[int]] = {}
    spelled: dict[tuple[bytes, ...], list[Name]] = {}
    for index in usable(context):
        materials = context.materials(index)
        # A separate check reports missing and empty libraries.
        if materials.undefined and all(use.library and use.library.definitions for use in materials.libraries):
            stems = tuple(map(name_stem, materials.undefined))  # skin.001 and skin.002 have the same cause
            users.setdefault((stems, not materials.libraries), []).append(index)
            spelled.setdefault(stems, []).extend(materials.undefined)
    for (stems, no_library), indices in users.items():
        names = list(dict.fromkeys(spelled[stems]))
        subject = Subject("material", names)
        reason = "the frames refer to no material library" if no_library else f"no library defines {subject:it/them}"
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"{subject} {subject:is/are} used, but {reason}",
            context.numbers(indices),
            files(context, indices),
            {"materials": len(names), "first": names[0].display},
            CHECK.fixes,
        )


CHECK = Check(
    id="material-undefined",
    title="Material undefined",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="Faces use a material that none of the frame's libraries defines.",
        after_import="These faces are white, as the format requires for unknown names, or have the default shader.",
        what_to_do="If a library in the folder defines the material, use the fix that points all frames to one "
        "library. Otherwise, correct the name or export the materials again.",
    ),
    run=run,
    fixes=("share-library", "neutral-material"),
)
