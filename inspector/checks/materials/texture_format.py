"""Textures that are sound, and that other readers may show differently."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from inspector import limits
from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import named, spot_finding
from inspector.checks.base.textures import COLOUR, Texture, spots, textures
from inspector.formats.format import Trait
from inspector.sequence.materials.image_cache import ENDINGS

_OTHER_MODELS = ("CMYK", "YCbCr", "LAB", "HSV")


@dataclass(frozen=True, slots=True)
class _Form:
    """An oddity: holds says whether a decoded texture has it; how says of the first what it is."""

    kind: str
    severity: Severity
    holds: Callable[[Texture], bool]
    how: Callable[[Texture], str]


_FORMS = (
    _Form(
        "ending",
        Severity.WARNING,
        lambda one: ENDINGS.get(one.path.suffix.lower(), one.facts.format) != one.facts.format,
        lambda one: f"holds {one.facts.format}, which its ending doesn't say",
    ),
    _Form(
        "colour model",
        Severity.WARNING,
        lambda one: one.facts.mode in _OTHER_MODELS,
        lambda one: f"is in {one.facts.mode} colours, not red, green and blue",
    ),
    _Form(
        "turned",
        Severity.WARNING,
        lambda one: not one.facts.upright,
        lambda _: "asks in a tag to be turned or mirrored, which only some readers do",
    ),
    _Form(
        "several images",
        Severity.NOTE,
        lambda one: one.facts.images > 1,
        lambda one: f"holds {one.facts.images:,} images, of which readers take the first",
    ),
    _Form(
        "alpha",
        Severity.NOTE,
        lambda one: one.facts.transparent > 0.0 and _colour_without_cut(one),
        lambda one: f"is transparent on {one.facts.transparent:.0%} of it, which only some readers show",
    ),
    _Form(
        "depth",
        Severity.NOTE,
        lambda one: one.facts.depth > 8 and bool(one.used_as(COLOUR)),
        lambda one: f"has {one.facts.depth} bits a channel, which some readers cut to 8",
    ),
    _Form(
        "steps",
        Severity.NOTE,
        lambda one: one.facts.depth <= 8 and bool(one.used_as(frozenset((b"disp",)))),
        lambda one: f"has {one.facts.depth} bits a channel: as displacement its steps may be seen",
    ),
    _Form(
        "two values",
        Severity.NOTE,
        lambda one: one.facts.mode == "1",
        lambda _: "has two values only, black and white",
    ),
    _Form(
        "one colour",
        Severity.NOTE,
        lambda one: one.facts.one_colour and one.facts.size != (1, 1) and bool(one.used_as(COLOUR)),
        lambda _: "is one even colour",
    ),
    _Form(
        "large",
        Severity.NOTE,
        lambda one: max(one.facts.size or (0,)) > limits.IMAGE_SIDE,
        lambda one: f"is {' x '.join(f'{side:,}' for side in one.facts.size or ())} pixels large",
    ),
)


def run(context: CheckContext) -> Iterator[Finding]:
    decoded = [texture for texture in textures(context) if texture.facts.decoded]
    for form in _FORMS:
        chosen = [texture for texture in decoded if form.holds(texture)]
        if chosen:
            message = f"texture {named(one.file for one in chosen)} {form.how(chosen[0])}"
            numbers: dict[str, float | int | str | None] = {"kind": form.kind, "textures": len(chosen)}
            yield spot_finding(context, CHECK.id, form.severity, message, spots(chosen), numbers)


def _colour_without_cut(texture: Texture) -> bool:
    """Whether the image is a colour map and not the opacity map (map_d) as well, which alone would use its alpha."""
    return bool(texture.used_as(COLOUR)) and not texture.used_as(frozenset((b"map_d",)))


CHECK = Check(
    id="texture-format",
    title="Texture's form",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="A texture is sound, but in a form that readers take differently: not the kind of file that its ending "
        "says, printing colours, a tag that turns it, transparency, more than 8 bits.",
        after_import="Depends on the reader: wrong colours, a picture turned, holes where it is transparent.",
        what_to_do="If the import shows it, save the picture in plain form: RGB, 8 bits (16 for displacement), "
        "upright, with the ending that fits.",
    ),
    run=run,
    scope=Scope.SEQUENCE,
    thresholds=("IMAGE_SIDE",),
)
