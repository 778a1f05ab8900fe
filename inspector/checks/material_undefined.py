"""Materials that faces use and no library defines."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, usable
from inspector.names import Name


def run(evidence: Evidence) -> Iterator[Finding]:
    users: dict[tuple[tuple[Name, ...], bool], list[int]] = {}
    for index in usable(evidence):
        materials = evidence.materials(index)
        # Where a library is missing, its materials are too: that is said once, by the other check.
        if materials.undefined and all(use.library is not None for use in materials.libraries):
            users.setdefault((materials.undefined, not materials.libraries), []).append(index)
    for (names, no_library), indices in users.items():
        listed = ", ".join(f"`{name.display}`" for name in names[:3])
        more = f" and {len(names) - 3} more" if len(names) > 3 else ""
        reason = "the frames name no material library" if no_library else "no library defines it"
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"material {listed}{more} is used, but {reason}",
            evidence.numbers(indices),
            files(evidence, indices),
            {"materials": len(names), "first": names[0].display},
            CHECK.fixes,
        )


CHECK = Check(
    id="material-undefined",
    title="Material undefined",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Faces ask for a material that none of the frame's libraries describes.",
        after_import="These faces come in white (the format's rule for unknown names), or with the default shader.",
        what_to_do="If a library in the folder defines it, stage the fix that points all frames at one library. "
        "Otherwise correct the name or export the materials again.",
    ),
    run=run,
    fixes=("one-library",),
)
