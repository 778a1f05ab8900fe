"""Statements of a material library that are written in the wrong case."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Spot, Subject, named, spot_finding, used_materials
from inspector.formats.format import Trait
from inspector.names import Name

_WRITTEN = {
    word.lower(): word
    for word in b"newmtl Ka Kd Ks Tf illum d Ns sharpness Ni map_Ka map_Kd map_Ks map_Ns map_d map_aat disp decal bump "
    b"refl Ke Tr Pr Pm Ps map_Ke map_Pr map_Pm map_Ps norm".split()
}
"""Statement in lower case -> its usual spelling. The statements before Ke are spelled as in MTL File Formats 4.2, 1995.
The statements from Ke on are later extensions (common practice, no source). map_bump is left out, because this later
extension is also spelled map_Bump."""


def run(context: CheckContext) -> Iterator[Finding]:
    other = [
        (Name(statement.written), Spot(material.where(statement), material.indices))
        for material in used_materials(context)
        for statement in material.statements
        if _WRITTEN.get(statement.keyword, statement.written) != statement.written
    ]
    if not other:
        return
    words = [word for word, _ in other]
    meant = [Name(_WRITTEN[word.raw.lower()]) for word in words]
    subject = Subject("statement", words)
    yield spot_finding(
        context,
        CHECK.id,
        Severity.WARNING,
        f"{subject} {subject:is/are} in the wrong case (the format uses {named(meant)})",
        [spot for _, spot in other],
        {"first": words[0].display, "meant": meant[0].display},
    )


CHECK = Check(
    id="statement-case",
    title="Statements in the wrong case",
    severity=Severity.WARNING,
    needs=(Trait.STATEMENTS,),
    rationale=Rationale(
        what="A statement in the library is written in the wrong letter case, for example `map_kd` instead of "
        "`map_Kd`.",
        after_import="Readers that require the exact spelling ignore the line, so a colour or a texture is missing.",
        what_to_do="If a colour or a texture is missing after the import, correct the statements in the library with a "
        "text editor.",
    ),
    run=run,
)
