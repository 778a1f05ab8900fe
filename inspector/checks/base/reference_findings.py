"""Report libraries and textures that are missing, not found as written, or outside the folder."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from inspector import limits
from inspector.checks.base.check import Check
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import Subject
from inspector.names import Name
from inspector.sequence.materials.references import Status, Target


@dataclass(frozen=True, slots=True)
class Use:
    """A reference from one frame to a file.

    Attributes:
        index: Index of the frame.
        name: Path as written.
        target: The file that the path leads to.
        where: Location of the path.
    """

    index: int
    name: Name
    target: Target
    where: Where


_SEVERITY = {Status.MISSING: Severity.ERROR, Status.NEAR: Severity.ERROR, Status.OUTSIDE: Severity.WARNING}


def reference_findings(
    context: CheckContext, check: Check, thing: str, uses: Iterable[Use], answers: Mapping[Status, tuple[str, ...]]
) -> Iterator[Finding]:
    """Yield one finding for each kind of failed reference, about all frames and names with this failure.

    Args:
        context: The sequence.
        check: The check that reports the findings.
        thing: Noun for the files, in the singular, such as "texture".
        uses: All references, including those whose file was found.
        answers: Ids of the fixes, by kind of failure.
    """
    failed: dict[Status, list[Use]] = {}
    for use in uses:
        if use.target.status is not Status.FOUND:
            failed.setdefault(use.target.status, []).append(use)
    for status, group in failed.items():
        names = tuple(dict.fromkeys(use.name for use in group))
        indices = list(dict.fromkeys(use.index for use in group))
        places = tuple(dict.fromkeys(use.where for use in group))
        yield Finding(
            check.id,
            _SEVERITY[status],
            _message(context, thing, status, names, group[0]),
            context.numbers(indices),
            places[: limits.PLACES_KEPT],
            {"status": status.name.lower(), "names": len(names), "first": names[0].display},
            answers.get(status, ()),
        )


def _message(context: CheckContext, thing: str, status: Status, names: tuple[Name, ...], first: Use) -> str:
    subject = Subject(thing, names)
    how = first.target.how or ""
    if status is Status.NEAR and first.target.path is not None:
        relative = context.resolver.scope.relative
        found = (
            f"{subject} {subject:was/were} not found as written, but {subject:was/were} found"
            f"{subject:/, the first} at `{relative(first.target.path)}` ({how})"
        )
        others = first.target.rivals + first.target.others
        return found + (f"; `{relative(others[0])}` has the same file name" if others else "")
    if status is Status.OUTSIDE:
        return f"{subject} {subject:was/were} not opened: {how}"
    beside = " or the --textures folders" if context.settings.textures else ""
    return f"{subject} {subject:was/were} not found in the inspected folder{beside}"
