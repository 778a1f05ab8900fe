"""Textures that different readers may show in different ways."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Subject, spot_finding
from inspector.checks.base.textures import COLOUR, Texture, spots, textures
from inspector.formats.format import Trait
from inspector.sequence.materials.image_cache import ENDINGS
from inspector.threshold import Threshold

IMAGE_SIDE = Threshold(
    "image-side",
    16384,
    "Maximum length of a texture's side that graphics hardware accepts (common practice, no source).",
    unit="pixels",
)

_OTHER_MODELS = ("CMYK", "YCbCr", "LAB", "HSV")


@dataclass(frozen=True, slots=True)
class _Form:
    """A texture property that different readers handle in different ways.

    Attributes:
        kind: The name of the property in the finding's numbers.
        severity: The severity of the finding.
        holds: Function that returns whether a decoded texture has the property.
        how: Function that takes the subject of the message, and the textures that have the property. It returns the
            words after the subject.
    """

    kind: str
    severity: Severity
    holds: Callable[[Texture], bool]
    how: Callable[[Subject, Sequence[Texture]], str]


def _any_of(values: Iterable[object]) -> str:
    """Join the distinct values with "or", as in `CMYK or LAB`."""
    return " or ".join(map(str, dict.fromkeys(values)))


def _depths(some: Sequence[Texture]) -> str:
    return _any_of(sorted(texture.facts.depth for texture in some))


def _largest(some: Sequence[Texture]) -> tuple[int, ...]:
    return max((texture.facts.size or (0,) for texture in some), key=max)


_FORMS = (
    _Form(
        "ending",
        Severity.WARNING,
        lambda texture: ENDINGS.get(texture.path.suffix.lower(), texture.facts.format) != texture.facts.format,
        lambda who, some: (
            f"{who:is/are} in {_any_of(texture.facts.format for texture in some)} format, "
            f"but {who:has the extension of a different format/have the extensions of different formats}"
        ),
    ),
    _Form(
        "colour model",
        Severity.WARNING,
        lambda texture: texture.facts.mode in _OTHER_MODELS,
        lambda who, some: (
            f"{who:has/have} {_any_of(texture.facts.mode for texture in some)} colours instead of RGB colours"
        ),
    ),
    _Form(
        "turned",
        Severity.WARNING,
        lambda texture: not texture.facts.upright,
        lambda who, _: (
            f"{who:has a tag that rotates or mirrors the image/have tags that rotate or mirror the images}, "
            f"but only some readers apply {who:the tag/the tags}"
        ),
    ),
    _Form(
        "several images",
        Severity.NOTE,
        lambda texture: texture.facts.several,
        lambda who, _: f"{who:contains/each contain} several images, but readers use only the first",
    ),
    _Form(
        "alpha",
        Severity.NOTE,
        lambda texture: texture.facts.transparent > 0.0 and _colour_without_opacity(texture),
        lambda who, some: (
            f"{who:is/are} transparent on {who:/up to }{max(texture.facts.transparent for texture in some):.0%} "
            f"of {who:its/their} area, but only some readers show the transparency"
        ),
    ),
    _Form(
        "depth",
        Severity.NOTE,
        lambda texture: texture.facts.depth > 8 and bool(texture.used_as(COLOUR)),
        lambda who, some: f"{who:has/have} {_depths(some)} bits per channel, which some readers reduce to 8",
    ),
    _Form(
        "steps",
        Severity.NOTE,
        lambda texture: texture.facts.depth <= 8 and bool(texture.used_as(frozenset((b"disp",)))),
        lambda who, some: (
            f"{who:has/have} {_depths(some)} bits per channel, so steps may be visible in the displacement"
        ),
    ),
    _Form(
        "two values",
        Severity.NOTE,
        lambda texture: texture.facts.mode == "1",
        lambda who, _: f"{who:has/have} only black and white pixels",
    ),
    _Form(
        "one colour",
        Severity.NOTE,
        lambda texture: texture.facts.one_colour and texture.facts.size != (1, 1) and bool(texture.used_as(COLOUR)),
        lambda who, _: f"{who:has/each have} only one colour",
    ),
    _Form(
        "large",
        Severity.NOTE,
        lambda texture: max(texture.facts.size or (0,)) > IMAGE_SIDE.value,
        lambda who, some: (
            f"{who:has/have} {who:/up to }{' x '.join(f'{side:,}' for side in _largest(some))} "
            f"pixels, but graphics hardware accepts at most {IMAGE_SIDE.value:,} per side"
        ),
    ),
)


def run(context: CheckContext) -> Iterator[Finding]:
    decoded = [texture for texture in textures(context) if texture.facts.decoded]
    for form in _FORMS:
        chosen = [texture for texture in decoded if form.holds(texture)]
        if chosen:
            subject = Subject("texture", (texture.file for texture in chosen))
            message = f"{subject} {form.how(subject, chosen)}"
            numbers: dict[str, float | int | str | None] = {"kind": form.kind, "textures": len(chosen)}
            yield spot_finding(context, CHECK.id, form.severity, message, spots(chosen), numbers)


def _colour_without_opacity(texture: Texture) -> bool:
    """Whether a texture is a colour map but not an opacity map (map_d). Opacity maps are transparent on purpose."""
    return bool(texture.used_as(COLOUR)) and not texture.used_as(frozenset((b"map_d",)))


CHECK = Check(
    id="texture-format",
    title="Texture format",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="The texture can be read, but different readers may show it in different ways. Reasons for this are, for "
        "example, an extension that doesn't match the file format, print colours (CMYK), a rotation tag, transparency "
        "or more than 8 bits per channel.",
        after_import="Depending on the reader, colours are wrong, the image is rotated, or the surface has holes "
        "where the image is transparent.",
        what_to_do="If you see the problem after the import, save the image again: upright, in RGB, with 8 bits per "
        "channel (16 for displacement), and with the extension of its format.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(IMAGE_SIDE,),
)
