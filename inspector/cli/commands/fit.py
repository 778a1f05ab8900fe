"""`meshqc fit`: show which texture and lettering fit the surface."""

from __future__ import annotations

import sys

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import PICTURE_EXIT_CODES, Arguments, Command, Group, Operand, Topic


class FitOptions(shared.TextureOptions):
    """Options of `fit`.

    Attributes:
        json: Whether the result is printed as JSON.
    """

    json: bool


def add_options(options: Group) -> None:
    shared.density(options)
    group = options.group("lettering")
    group.add(
        "--caption",
        metavar="TEXT",
        action="append",
        help="text to fit into the lettering box, on one line, in Source Sans Pro Bold; repeatable",
    )
    group.add(
        "--lettering-box",
        metavar="LEFT,BOTTOM,RIGHT,TOP",
        type=values.rectangle,
        help="positions of the lettering box's sides on the texture, each from 0 to 1 (default: the largest safe box)",
    )
    shared.material(group)
    shared.stretch(group)
    shared.json(options, "everything")
    shared.view(options)
    shared.reading(options.group(shared.STATEMENTS))
    shared.measuring(options)


def run(arguments: Arguments[FitOptions]) -> int:
    """Measure the sequences, and print which texture and lettering fit.

    Returns:
        Exit code 0, or 2 if the measurement failed for every sequence.
    """
    from inspector.cli.exit_codes import fail, say
    from inspector.cli.inspecting import measure
    from inspector.cli.requests import requested, staged
    from inspector.cli.streams import style_of
    from inspector.errors import MeshqcError
    from inspector.lettering.maps_fit import judge_maps
    from inspector.lettering.sequence_fit import fit_sequence, read_lettering
    from inspector.names import Name
    from inspector.report.document import json_text
    from inspector.report.fit_document import fit_document
    from inspector.report.fit_text import FitReport, fit_text
    from inspector.sequence.materials.resolver import MaterialResolver

    wanted = requested(arguments)
    reports: list[FitReport] = []
    refused: list[tuple[Name, str]] = []
    resolver = MaterialResolver(arguments.scope)
    for series in measure(arguments):
        try:
            with staged(series) as stage:
                fit = fit_sequence(series, wanted, stage)
                lettering = read_lettering(fit, stage)
            maps = judge_maps(resolver.of_frame(series.reference_facts), fit.texture, fit.density, resolver.scope)
        except MeshqcError as error:
            refused.append((series.sequence.pattern, str(error)))
        else:
            reports.append(FitReport(fit, lettering, maps))
    if arguments.options.json:
        sys.stdout.write(json_text(fit_document(Name.from_path(arguments.folder), reports, refused)))
    else:
        style = style_of(sys.stdout, arguments.options.color)
        sys.stdout.writelines(fit_text(report, style) for report in reports)
    for _, reason in refused if reports else refused[1:]:
        say(f"meshqc: {reason}")
    return 0 if reports else fail(refused[0][1])


COMMAND = Command(
    name="fit",
    topic=Topic.TEXTURE,
    summary="Show texture sizes and lettering boxes.",
    options=FitOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder with sequences; it is never changed"),
    notes=PICTURE_EXIT_CODES,
    examples=('meshqc fit harbour/manta --caption "HARBOUR AQUARIUM"',),
)
