"""UVs that are no numbers."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="uv-numbers",
    title="UVs that are no numbers",
    kinds={"bad-uv": Severity.ERROR},
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="A UV coordinate is nan, inf or a piece of text instead of a finite decimal number.",
        after_import="Faces there show a stray colour or flicker; some imports drop the UVs of the whole frame.",
        what_to_do="Stage the fix: UVs are restored from the reference frame. Where all frames have it, look at the "
        "UVs in the scene; a division by nothing in a projection is the usual cause.",
    ),
    fixes=("uv-restore",),
    element="UV",
)
