"""Files whose names differ only in letter case or in the encoding of accents."""

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
    """The files whose names collide because of letter case, or because of the encoding of accents.

    Attributes:
        files: Path of each file (relative to the inspected folder) -> name of a file that it collides with.
        indices: Indices of the frames that use such a file.
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
        others = (
            f"other files in the same folder, such as `{example}`" if many > 1 else f"`{example}` in the same folder"
        )
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"{named(collision.files)} {'differ' if many > 1 else 'differs'} only in {difference} from {others}",
            context.numbers(sorted(collision.indices)),
            tuple(map(Where, list(collision.files)[: limits.PLACES_KEPT])),
            {"difference": difference, "files": many},
        )


def _files(context: CheckContext) -> Iterator[tuple[Path, list[int]]]:
    """Yield each file that frames use, with the indices of these frames.

    These files are the files of the frames themselves, and the libraries and textures found under exactly the stated
    names. The files of frames that `repeated-frames` reports are left out.
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
        what="The names of two files in the same folder differ only in letter case (`M.0001.obj` and `m.0001.obj`) or "
        "only in how accents are encoded, a difference that is not visible.",
        after_import="On many file systems, such names count as the same name. If the folder is copied to such a file "
        "system, one file replaces the other. Frames are then missing, or show a different object or texture.",
        what_to_do="Rename one of the two files. If one file is left over from an earlier export, delete that file "
        "instead.",
    ),
    run=run,
    explained_by=("repeated-frames",),
)
