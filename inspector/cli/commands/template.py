"""`meshqc template`: draw a template on which a texture can be painted."""

from __future__ import annotations

import sys
from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import PICTURE_EXIT_CODES, Arguments, Command, Group, Operand, Topic, UsageError


class TemplateOptions(shared.TextureOptions):
    """Options of `template`.

    Attributes:
        output: The new files, PNG or SVG.
        layers: The new folder for the layers; None to write no layers.
        like: An image file that determines the size of the template; None for the size that the material needs.
        bleed: Number of pixels by which UV islands are extended; None for the default.
    """

    output: list[Path]
    layers: Path | None
    like: Path | None
    bleed: int | None


def add_options(options: Group) -> None:
    options.add(
        "--output",
        metavar="FILE",
        type=values.path,
        default=[],
        action="append",
        help="new PNG or SVG file; repeatable, to write both",
    )
    options.add(
        "--layers", metavar="DIR", type=values.path, help="new folder for the layers, one transparent PNG per layer"
    )
    options.add("--like", metavar="FILE", type=values.file, help="make the template as large as this texture")
    options.add("--bleed", metavar="PIXELS", type=values.count, help="extend the UV islands by this many pixels")
    shared.density(options)
    shared.subject(options)
    shared.stretch(options)
    shared.view(options)
    shared.reading(options.group(shared.STATEMENTS))
    shared.measuring(options)


def run(arguments: Arguments[TemplateOptions]) -> int:
    """Draw the template, write its files, and return exit code 0.

    Raises:
        UsageError: Neither `--output` nor `--layers` is given.
        MeshqcError: A file can't be read or written, or there is more than one sequence or material to choose from.
    """
    from inspector.cli.exit_codes import say
    from inspector.cli.requests import one_material, one_series, requested, staged
    from inspector.delivery.destination import place_for
    from inspector.delivery.output_file import refuse_early, write_folder, write_placed
    from inspector.lettering.maps_fit import MAP_SQUEEZE
    from inspector.lettering.sequence_fit import fit_sequence
    from inspector.lettering.template_fit import template_of
    from inspector.names import Name
    from inspector.picture.image_files import image_size
    from inspector.picture.png import png_bytes
    from inspector.picture.svg import template_svg
    from inspector.picture.template import draw_layers, draw_template

    options = arguments.options
    if not options.output and options.layers is None:
        raise UsageError("nothing to write: name a file with --output, or a folder with --layers")
    destinations = refuse_early(options.output, (".png", ".svg"), arguments.scope)
    folder = None if options.layers is None else place_for(options.layers, arguments.scope.roots)
    size = None if options.like is None else image_size(options.like)
    series = one_series(arguments)
    with staged(series) as stage:
        fit = fit_sequence(series, requested(arguments), stage)
    one_material(fit)
    template = template_of(fit, options.bleed, size)
    squeeze = template.width / template.height / fit.material.wanted_aspect
    if max(squeeze, 1.0 / squeeze) > MAP_SQUEEZE:
        wanted = f"{fit.material.wanted_aspect:.3g} to 1"
        say(
            f"caution: the aspect ratio of {template.width} x {template.height} px is wrong; the surface needs {wanted}"
        )
    for path, destination in zip(options.output, destinations, strict=True):
        svg = path.suffix.lower() == ".svg"
        write_placed(destination, template_svg(template).encode() if svg else png_bytes(draw_template(template)))
        sys.stdout.write(f"{Name.from_path(path)}: {template.title()}\n")
    if folder is not None and options.layers is not None:
        files = {f"{at}_{name}.png": png_bytes(layer) for at, (name, layer) in enumerate(draw_layers(template), 1)}
        write_folder(folder, files)
        sys.stdout.write(f"{Name.from_path(options.layers)}: {len(files)} layers, {template.title()}\n")
    return 0


COMMAND = Command(
    name="template",
    topic=Topic.TEXTURE,
    summary="Draw a template for the texture.",
    options=TemplateOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder with sequences; it is never changed"),
    usage="--output PNG",
    notes=PICTURE_EXIT_CODES,
    examples=(
        "meshqc template harbour/manta --output manta.png --output manta.svg",
        "meshqc template harbour/manta --layers manta_layers",
    ),
)
