"""Frames in which only some faces have UVs."""

from __future__ import annotations

from collections.abc import Iterator

from inspector import limits
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import without_uv
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import part_of, usable_where
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    partial = usable_where(
        context,
        lambda facts: 0 < facts.faces_without_uvs < facts.faces and facts.problem("vt-index-range") is None,
    )
    if not partial:
        return
    facts = context.series.facts
    most = max(facts[index].faces_without_uvs for index in partial)
    places = [(index, facts[index].first_face_without_uvs) for index in partial[: limits.PLACES_KEPT]]
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{part_of(most, facts[partial[0]].faces, 'face')} {'has' if most == 1 else 'have'} no UVs, although the "
        "other faces have UVs",
        context.numbers(partial),
        tuple(
            Where(context.file_name(index), place.line, f"face {(place.element or 0) + 1}")
            for index, place in places
            if place is not None
        ),
        {"faces": most},
        CHECK.fixes,
    )


CHECK = Check(
    id="partial-uvs",
    title="UVs on some faces only",
    severity=Severity.ERROR,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="Some faces have UVs (texture coordinates), and others don't.",
        after_import="Parts of the surface have no texture. Some readers drop the UVs of the whole mesh.",
        what_to_do="Restore the UVs from an intact frame of the sequence, or export again.",
    ),
    run=run,
    fixes=("uv-restore", "uv-donor", "uv-nearest"),
    affected_faces=without_uv,
)
