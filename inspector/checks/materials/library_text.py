"""Material libraries that can't be read, are empty, or contain lines that belong to no material."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import Spot, Subject, spot_finding, used_libraries
from inspector.formats.format import Trait
from inspector.formats.problems import KINDS

_SEVERITY = {
    "empty": Severity.ERROR,
    "nul-run": Severity.ERROR,
    "no-material": Severity.ERROR,
    "utf-16": Severity.WARNING,
    "byte-order-mark": Severity.WARNING,
    "before-material": Severity.WARNING,
    "unnamed-material": Severity.WARNING,
    "map-without-name": Severity.WARNING,
    "continued-line": Severity.NOTE,
}
"""Severities of the problems that the library reader detects. If a library has several problems, only the problem that
comes first in this dictionary is reported, because it may cause the others.
"""

_NOTHING = ("empty", "no-material")
"""Problems that are only warnings if no face uses a material, because then no material is missing."""

_CLEANED = ("utf-16", "byte-order-mark", "continued-line")


def run(context: CheckContext) -> Iterator[Finding]:
    libraries = used_libraries(context)
    closed = [library for library in libraries if library.library is None]
    if closed:
        reasons = dict.fromkeys(context.resolver.unopened[one.path] for one in closed)
        subject = Subject("material library", (one.file for one in closed))
        message = f"{subject} could not be opened: {', '.join(reasons)}"
        spots = [Spot(Where(one.file), one.indices) for one in closed]
        yield spot_finding(context, CHECK.id, Severity.ERROR, message, spots, {"kind": "unopenable"})
    met: dict[tuple[str, Severity], list[Spot]] = {}
    for one in libraries:
        problems = {problem.kind: problem for problem in one.library.problems} if one.library else {}
        kind = next((kind for kind in _SEVERITY if kind in problems), None)
        if kind is not None:
            used = any(context.series.facts[index].materials for index in one.indices)
            severity = _SEVERITY[kind] if used or kind not in _NOTHING else Severity.WARNING
            met.setdefault((kind, severity), []).extend(
                Spot(Where(one.file, place.line, place.text.display if place.text else None), one.indices)
                for place in problems[kind].places
            )
    for (kind, severity), spots in met.items():
        message = f"{Subject('material library', (spot.where.file for spot in spots))}: {KINDS[kind]}"
        fixes = CHECK.fixes if kind in _CLEANED else ()
        yield spot_finding(context, CHECK.id, severity, message, spots, {"kind": kind}, fixes)


CHECK = Check(
    id="library-text",
    title="Material library damaged",
    severity=Severity.ERROR,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A material library can't be read, is empty or damaged, or contains lines that belong to no material.",
        after_import="Some or all surfaces are grey or white, or a texture is missing.",
        what_to_do="Export the library again as plain text: ASCII, or UTF-8 without a byte-order mark.",
    ),
    run=run,
    fixes=("clean-library",),
)
