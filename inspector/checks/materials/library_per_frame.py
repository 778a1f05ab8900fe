"""Separate material libraries for the frames, although one library would be enough."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import Spot, spot_finding, used_libraries
from inspector.checks.base.material_content import changes
from inspector.formats.format import Trait
from inspector.threshold import Threshold

LIBRARY_PER_FRAME = Threshold(
    "library-per-frame",
    0.5,
    "The export counts as having one library per frame if the ratio of the number of libraries to the number of frames "
    "is above this value. A lower ratio is not reported, because it probably means that a few frames refer to the "
    "wrong library.",
    settable=True,
)


def run(context: CheckContext) -> Iterator[Finding]:
    libraries = used_libraries(context)
    frames = len({index for used in libraries for index in used.indices})
    if len(libraries) < 2 or len(libraries) <= context.limit(LIBRARY_PER_FRAME) * frames or any(changes(context)):
        return
    yield spot_finding(
        context,
        CHECK.id,
        Severity.NOTE,
        f"{len(libraries):,} material libraries with the same content for {frames:,} frames: one library is enough",
        [Spot(Where(used.file), used.indices) for used in libraries],
        {"libraries": len(libraries)},
        CHECK.fixes,
    )


CHECK = Check(
    id="library-per-frame",
    title="One library per frame",
    severity=Severity.NOTE,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="Most frames have their own material library, although all libraries have the same content.",
        after_import="The picture is right, but some importers create a new set of materials for every frame.",
        what_to_do="If the list of materials grows with every frame, use the fix that points all frames to one "
        "library.",
    ),
    run=run,
    fixes=("share-library",),
    scope=CheckScope.SEQUENCE,
    thresholds=(LIBRARY_PER_FRAME,),
)
