"""Vertices that no face uses."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, part_of
from inspector.checks.base.topology_changes import same_surface
from inspector.checks.base.whole_surfaces import whole_indices
from inspector.formats.format import Trait
from inspector.formats.frame import Frame


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    if not base.faces:
        raise NotApplicable("there are no faces")
    if not base.unused_vertices or not whole_indices(base) or base.problem("not-polygonal"):
        return
    unused = base.unused_vertices
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        f"{part_of(unused, base.vertices, 'vertex')} {'belongs' if unused == 1 else 'belong'} to no face",
        context.numbers(same_surface(context)),
        numbers={"unused": unused},
        fixes=CHECK.fixes,
    )


def _affected(frame: Frame, _: Frame | None) -> Indices:
    return np.setdiff1d(np.arange(len(frame.positions)), frame.corners.v)


CHECK = Check(
    id="unused-vertices",
    title="Unused vertices",
    severity=Severity.NOTE,
    needs=(Trait.SHARED,),
    rationale=Rationale(
        what="The file lists vertices that no face uses.",
        after_import="Unused vertices are invisible, but they may enlarge the object's bounding box. Readers that drop "
        "unused vertices renumber the other vertices.",
        what_to_do="No change is needed as long as every frame has the same unused vertices. To be safe, delete unused "
        "vertices in the scene or with the fix.",
    ),
    run=run,
    fixes=("drop-unused-vertices",),
    affected_vertices=_affected,
)
