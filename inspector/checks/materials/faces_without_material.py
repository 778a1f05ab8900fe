"""Faces without a material: faces before the first usemtl line, or all faces of a file without usemtl lines."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import part_of, problem_places, usable
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.surface.islands import face_materials


def run(context: CheckContext) -> Iterator[Finding]:
    facts = context.series.facts
    indices = usable(context)
    if not any(facts[index].materials or facts[index].libraries for index in indices):
        raise NotApplicable("the frames refer to neither materials nor material libraries")
    met = [
        (index, problem) for index in indices if (problem := facts[index].problem("face-without-material")) is not None
    ]
    if not met:
        return
    index, problem = met[0]
    some = f"{part_of(problem.count, facts[index].faces, 'face')} {'is' if problem.count == 1 else 'are'}"
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{some} listed before the first usemtl line" if facts[index].materials else "no face has a material",
        context.numbers([index for index, _ in met]),
        problem_places(context, met, "face"),
        {"faces": problem.count},
        CHECK.fixes,
    )


def _affected(frame: Frame, _: Frame | None) -> Indices:
    names, material = face_materials(frame)
    return np.flatnonzero(np.array([name is None for name in names], bool)[material])


CHECK = Check(
    id="faces-without-material",
    title="Faces without a material",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="A usemtl line assigns a material to the faces after it. Here, faces are listed before the first usemtl "
        "line, or the file has no usemtl line.",
        after_import="These faces are white or have the default shader, without a texture.",
        what_to_do="Assign a material to every face in the scene, and export again with materials switched on.",
    ),
    run=run,
    fixes=("neutral-material",),
    affected_faces=_affected,
)
