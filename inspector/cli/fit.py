"""`meshqc fit`: what the surface wants of its texture."""

from __future__ import annotations

import sys

from inspector.cli.arguments import Arguments
from inspector.cli.exit_codes import fail, say
from inspector.cli.inspecting import measure
from inspector.cli.streams import look_of
from inspector.cli.texture_request import staged, wanted
from inspector.errors import MeshqcError
from inspector.lettering.maps_fit import judge_maps
from inspector.lettering.sequence_fit import Wanted, fit_sequence, read_lettering
from inspector.names import Name
from inspector.report.fit_document import fit_document
from inspector.report.fit_text import FitReport, fit_text
from inspector.report.json import json_text
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.series import Series


def run(arguments: Arguments) -> int:
    """Exit code 0, or 2 if nothing can be said of any sequence."""
    asked = wanted(arguments.options)
    reports: list[FitReport] = []
    refused: list[tuple[Name, str]] = []
    book = MaterialResolver(Scope(arguments.folder, arguments.settings.textures))
    for series in measure(arguments):
        try:
            reports.append(_report(series, asked, book))
        except MeshqcError as error:
            refused.append((series.sequence.pattern, str(error)))
    if arguments.options.json:
        sys.stdout.write(json_text(fit_document(Name.from_path(arguments.folder), reports, refused)))
    look = look_of(sys.stdout, arguments.options.color)
    for report in [] if arguments.options.json else reports:
        sys.stdout.write(fit_text(report, look))
    for _, reason in refused if reports else refused[1:]:
        say(f"meshqc: {reason}")
    return 0 if reports else fail(refused[0][1])


def _report(series: Series, asked: Wanted, book: MaterialResolver) -> FitReport:
    with staged(series) as stage:
        fit = fit_sequence(series, asked, stage)
        lettering = read_lettering(fit, stage)
    return FitReport(
        fit, lettering, judge_maps(book.of_frame(series.reference_facts), fit.texture, fit.density, book.scope)
    )
