"""UVs that are not finite decimal numbers."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="uv-numbers",
    title="UVs that are not numbers",
    kinds={"bad-uv": Severity.ERROR},
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="A UV coordinate is nan, inf or text instead of a finite decimal number.",
        after_import="The faces with these UVs show a wrong colour or flicker. Some readers drop the UVs of the whole "
        "frame.",
        what_to_do="Use the fix, which restores the UVs from the reference frame. If the UVs are wrong on all frames, "
        "correct them in the scene. The usual cause is a division by zero in a projection.",
    ),
    fixes=("uv-restore",),
    element="UV",
)
