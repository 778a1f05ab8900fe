"""Textures that can't be decoded, or that were not decoded because of their size, number or format."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Subject, spot_finding
from inspector.checks.base.textures import Texture, spots, textures
from inspector.formats.format import Trait
from inspector.picture.image_files import IMAGE_PIXELS
from inspector.sequence.materials.image_cache import IMAGES_PIXELS


def run(context: CheckContext) -> Iterator[Finding]:
    found = textures(context)
    yield from _reported(context, found, Severity.ERROR, lambda texture: texture.facts.damage, "can't be decoded")
    yield from _reported(
        context, found, Severity.NOTE, lambda texture: texture.facts.unjudged, "{0:was/were} not decoded"
    )


def _reported(
    context: CheckContext, found: list[Texture], severity: Severity, reason: Callable[[Texture], str | None], how: str
) -> Iterator[Finding]:
    chosen = [texture for texture in found if reason(texture) is not None]
    if chosen:
        subject = Subject("texture", (texture.file for texture in chosen))
        message = f"{subject} {how.format(subject)}{subject:/; reason for the first}: {reason(chosen[0])}"
        yield spot_finding(context, CHECK.id, severity, message, spots(chosen), {"textures": len(chosen)})


CHECK = Check(
    id="texture-damaged",
    title="Texture damaged",
    severity=Severity.ERROR,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="A texture file is empty, cut off, damaged, or not an image. Very large images, and images in formats "
        "that this tool doesn't support, are listed but not decoded.",
        after_import="The surface is black or white, or shows only part of the image, or the import fails.",
        what_to_do="Copy the file again from its source, or save the image again.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(IMAGE_PIXELS, IMAGES_PIXELS),
)
