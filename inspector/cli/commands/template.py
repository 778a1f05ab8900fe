"""`meshqc template`: what a designer draws the texture on."""

from __future__ import annotations

import sys
from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import PICTURE_EXIT_CODES, Arguments, Command, Group, Operand, Topic


class TemplateOptions(shared.TextureOptions):
    """Options of `template`.

    Attributes:
        output: new files, PNG or SVG.
        bleed: pixels that the islands are extended by, None for the default.
    """

    output: list[Path]
    bleed: int | None


def add_options(options: Group) -> None:
    """Options of `template`."""
    options.add(
        "--output",
        metavar="FILE.png or FILE.svg",
        type=Path,
        required=True,
        action="append",
        help="a new file; repeat the option for both",
    )
    options.add("--bleed", metavar="PIXELS", type=values.count, help="extend the islands by this much")
    shared.density(options)
    shared.subject(options)
    shared.stretch(options)
    shared.view(options)
    shared.reading(options.group(shared.STATEMENTS))
    shared.measuring(options)


def run(arguments: Arguments[TemplateOptions]) -> int:
    """Exit code 0."""
    from inspector.cli.texture import one_material, one_series, requested, staged
    from inspector.delivery.output_file import refuse_early, write_placed
    from inspector.lettering.sequence_fit import display, fit_sequence
    from inspector.lettering.template_fit import template_of
    from inspector.names import Name
    from inspector.picture.png import png_bytes
    from inspector.picture.svg import template_svg
    from inspector.picture.template import draw_template

    options = arguments.options
    destinations = refuse_early(options.output, (".png", ".svg"), arguments.scope)
    series = one_series(arguments)
    with staged(series) as stage:
        fit = fit_sequence(series, requested(options), stage)
    one_material(fit)
    template = template_of(fit, options.bleed)
    for path, destination in zip(options.output, destinations, strict=True):
        svg = path.suffix.lower() == ".svg"
        write_placed(destination, template_svg(template).encode() if svg else png_bytes(draw_template(template)))
        sys.stdout.write(f"{Name.from_path(path)}: {display(fit.material.material)}, {template.title()}\n")
    return 0


COMMAND = Command(
    name="template",
    topic=Topic.TEXTURE,
    summary="Draw a template for the texture.",
    options=TemplateOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "a folder with sequences; it is only read"),
    usage="--output PNG",
    notes=PICTURE_EXIT_CODES,
    examples=("meshqc template harbour/manta --output manta.png --output manta.svg",),
)
