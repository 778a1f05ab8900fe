"""`meshqc template`: what a designer draws the texture on."""

from __future__ import annotations

import sys

from inspector.cli.arguments import Arguments, read_by
from inspector.cli.texture_request import one_material, one_series, staged, wanted
from inspector.delivery.output_file import refuse_early, write_placed
from inspector.lettering.sequence_fit import display, fit_sequence
from inspector.lettering.template_fit import template_of
from inspector.names import Name
from inspector.picture.png import png_bytes
from inspector.picture.svg import template_svg
from inspector.picture.template import draw_template


def run(arguments: Arguments) -> int:
    """Exit code 0."""
    options = arguments.options
    places = refuse_early(options.output, (".png", ".svg"), read_by(arguments))
    series = one_series(arguments)
    with staged(series) as stage:
        fit = fit_sequence(series, wanted(options), stage)
    one_material(fit)
    template = template_of(fit, options.bleed)
    for path, place in zip(options.output, places, strict=True):
        svg = path.suffix.lower() == ".svg"
        write_placed(place, template_svg(template).encode() if svg else png_bytes(draw_template(template)))
        sys.stdout.write(f"{Name.from_path(path)}: {display(fit.material.material)}, {template.title()}\n")
    return 0
