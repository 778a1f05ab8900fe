"""Faces whose corners are written in different forms."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="mixed-corners",
    title="Mixed corner forms",
    kinds={"mixed-corners": Severity.ERROR},
    rationale=Rationale(
        what="Within one face, some corners name a UV or a normal and others don't. The format forbids it.",
        after_import="The import fails, or the face takes its texture from a wrong place.",
        what_to_do="Export again; the UVs of these faces are incomplete in the scene.",
    ),
    element="face",
    needs=(Trait.STATEMENTS,),
)
