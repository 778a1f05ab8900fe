"""Content that this tool leaves out when it reads a mesh file or unpacks a scene file."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files

_Losses = dict[tuple[str, Severity], list[int]]
"""Kind of content and severity -> indices of the frames from which this content is left out."""
_KINDS = {"left-out-seen": Severity.WARNING, "left-out": Severity.NOTE}


def run(context: CheckContext) -> Iterator[Finding]:
    found: _Losses = {}
    for kind, severity in _KINDS.items():
        for index, facts in enumerate(context.series.facts):
            problem = facts.problem(kind)
            for place in () if problem is None else problem.places:
                if place.text is not None:
                    found.setdefault((place.text.display, severity), []).append(index)
    for what, seen, paths in context.marks.left_out:  # from the receipt of frames from a scene file
        severity = _KINDS["left-out-seen" if seen else "left-out"]
        indices = [at for at in range(len(context.series.facts)) if context.file_name(at).text in paths]
        if indices:
            found.setdefault((what, severity), []).extend(indices)
    for (what, severity), indices in found.items():
        yield Finding(
            CHECK.id,
            severity,
            f"left out: {what}",
            context.numbers(indices),
            files(context, indices),
            {"left_out": what},
        )


CHECK = Check(
    id="left-out",
    title="Data left out",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The file contains data that OBJ frames can't store or that this tool doesn't read. The data was not "
        "inspected, and a corrected copy doesn't contain it. The finding is a warning if the data affects the picture.",
        after_import="The corrected copy may look different from the source.",
        what_to_do="If the import needs this data, import the source file itself, or bake the data into the mesh "
        "before the export.",
    ),
    run=run,
)
