"""Textures that are used both as a colour map and as a normal or height map."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Subject, spot_finding
from inspector.checks.base.textures import BUMP, COLOUR, NORMAL, Texture, textures
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    both = [texture for texture in textures(context) if texture.facts.decoded and _in_two_roles(texture)]
    if not both:
        return
    spots = [usage.spot for texture in both for usage in texture.used_as(COLOUR | NORMAL | BUMP)]
    lit = any(texture.used_as(NORMAL) for texture in both)
    severity = Severity.ERROR if lit else Severity.WARNING
    subject = Subject("texture", (texture.file for texture in both))
    roles = f"{subject:a colour map/colour maps} and as {subject:a normal or height map/normal or height maps}"
    message = f"{subject} {subject:is/are} assigned both as {roles}"
    yield spot_finding(context, CHECK.id, severity, message, spots, {"textures": len(both)})


def _in_two_roles(texture: Texture) -> bool:
    """Whether a texture is used in two roles that exclude each other.

    A colour texture can also serve as a height map, but not as a normal map.
    """
    if not texture.used_as(COLOUR):
        return False
    return bool(texture.used_as(NORMAL) or (texture.used_as(BUMP) and texture.facts.looks_like_normals))


CHECK = Check(
    id="texture-used-twice",
    title="Texture used as colour and normal map",
    severity=Severity.ERROR,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="The same texture is assigned both as a colour map and as a normal map, or a texture that contains "
        "normals is assigned both as a colour map and as a height map. No texture can contain both colours and "
        "normals.",
        after_import="The surface is bluish, or its shading looks crumpled.",
        what_to_do="Correct the file name in one of the two statements, or assign the right texture by hand after the "
        "import.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
)
