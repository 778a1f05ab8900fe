"""Files whose names may prevent other systems or readers from finding them."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import Spot, Subject, material_states, spot_finding
from inspector.checks.base.portability import unportable
from inspector.checks.base.textures import usages
from inspector.formats.format import Trait
from inspector.names import Name
from inspector.sequence.materials.references import Status

_HOW = {
    "reserved": (Severity.WARNING, "{0:has a name that is/have names that are} not allowed on some systems"),
    "blanks in a library": (
        Severity.WARNING,
        "{0:has spaces in its name/have spaces in their names}; some readers split such a name into several names",
    ),
    "blanks": (
        Severity.NOTE,
        "{0:has spaces in its name/have spaces in their names}; some readers cut off such a name at the first space",
    ),
    "beyond ASCII": (
        Severity.NOTE,
        "{0:has non-ASCII characters in its name/have non-ASCII characters in their names}; some systems encode such "
        "characters differently",
    ),
}


def run(context: CheckContext) -> Iterator[Finding]:
    met: dict[str, list[tuple[Name, Spot]]] = {}
    for name, is_library, spot in _references(context):
        kind = unportable(name.raw, is_library)
        if kind is not None:
            met.setdefault(kind, []).append((name, spot))
    for kind, places in met.items():
        severity, how = _HOW[kind]
        subject = Subject("file", (name for name, _ in places))
        message = f"{subject} {how.format(subject)}"
        yield spot_finding(
            context, CHECK.id, severity, message, [spot for _, spot in places], {"kind": kind}, CHECK.fixes
        )


def _references(context: CheckContext) -> Iterator[tuple[Name, bool, Spot]]:
    """Yield the references whose paths, exactly as written, lead to a file.

    Each result contains the path, whether the file is a library, and the location of the reference.

    Raises:
        NotApplicable: The frames refer to no material library.
    """
    states = material_states(context)
    if not any(state.materials.libraries for state in states):
        raise NotApplicable("the frames refer to no material library")
    for state in states:
        for use in state.materials.libraries:
            if use.target.status is Status.FOUND:
                where = Where(context.file_name(state.indices[0]), use.line.line)
                yield use.name, True, Spot(where, state.indices)
    if any(state.materials.maps for state in states):
        for usage in usages(context):
            if usage.map.target.status is Status.FOUND:
                yield usage.map.target.first_name(usage.map.map.name), False, usage.spot


CHECK = Check(
    id="paths-not-portable",
    title="Paths not portable",
    severity=Severity.WARNING,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A library or texture was found, but other systems or readers may handle its name differently. The name "
        "is reserved, or has reserved characters, spaces or non-ASCII characters.",
        after_import="Another computer or another reader may not find the file. Surfaces are then grey, or have no "
        "texture.",
        what_to_do="Rename the file, using only ASCII letters, digits, `_`, `-` and `.`. Then export again, or "
        "correct the path in the statement that refers to the file.",
    ),
    run=run,
    fixes=("portable-names",),
)
