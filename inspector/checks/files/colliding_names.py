"""Files whose names are the same on a file system that ignores letter case or the encoding of accents."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from inspector import limits
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import material_states, named
from inspector.names import Name
from inspector.sequence.materials.references import Status

_CASE, _ACCENTS = "letter case", "the encoding of accents"


@dataclass(slots=True)
class _Collision:
    """Files that collide with others for the same reason.

    Attributes:
        files: The files, relative to the inspected folder, each with the name of a file with which it collides.
        indices: Indices of the frames that are or name one of these files.
    """

    files: dict[Name, Name] = field(default_factory=dict)
    indices: set[int] = field(default_factory=set)


def run(context: CheckContext) -> Iterator[Finding]:
    scope = context.resolver.scope
    found: dict[str, _Collision] = {}
    for path, indices in _files(context):
        for other in scope.collisions(path.parent).get(path.name, ()):
            collision = found.setdefault(_difference(path.name, other), _Collision())
            collision.files.setdefault(scope.relative(path), Name.from_path(other))
            collision.indices.update(indices)
    for difference, collision in found.items():
        many, example = len(collision.files), next(iter(collision.files.values())).display
        from_which = "other files in the same folder, such as" if many > 1 else "another file in the same folder,"
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"{named(collision.files)} {'differ' if many > 1 else 'differs'} only in {difference} from {from_which} "
            f"`{example}`",
            context.numbers(sorted(collision.indices)),
            tuple(map(Where, list(collision.files)[: limits.PLACES_KEPT])),
            {"difference": difference, "files": many},
        )


def _files(context: CheckContext) -> Iterator[tuple[Path, list[int]]]:
    """Yield the path of each frame, library and texture that exists as written, with the indices of the frames that use
    it.
    """
    for index in context.unexplained(range(len(context.series.facts))):
        yield context.series.facts[index].file.path, [index]
    for state in material_states(context):
        materials = state.materials
        targets = [*(use.target for use in materials.libraries), *(use.target for use in materials.maps)]
        for target in targets:
            if target.status is Status.FOUND:
                yield from ((path, state.indices) for path in target.files)


def _difference(name: str, other: str) -> str:
    one, two = (unicodedata.normalize("NFC", os.fsencode(each).decode("utf-8", "replace")) for each in (name, other))
    return _ACCENTS if one == two else _CASE


CHECK = Check(
    id="colliding-names",
    title="Colliding names",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Two files in one folder have names that differ only in letter case (`M.0001.obj` and `m.0001.obj`), or "
        "only in the encoding of accents, which is invisible.",
        after_import="Many file systems treat such names as the same name. When the folder is copied there, one file "
        "replaces the other: frames are missing, or show another object or another texture.",
        what_to_do="Give one of the files a different name. If it is left over from an earlier export, delete it.",
    ),
    run=run,
    explained_by=("repeated-frames",),
)
