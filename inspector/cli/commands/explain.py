"""`meshqc explain`: print a page about one check or fix."""

from __future__ import annotations

import sys

from inspector.cli import options as shared
from inspector.cli.command import PRINTED_EXIT_CODES, Arguments, Command, Group, Options, Topic


class ExplainOptions(Options):
    """Options of `explain`.

    Attributes:
        id: Id of a check or a fix.
        json: Whether the page is printed as JSON.
    """

    id: str
    json: bool


def add_options(options: Group) -> None:
    options.add("id", metavar="ID", help="id of a check or a fix, such as uv-mismatch or scale")
    shared.json(options, "the page")


def run(arguments: Arguments[ExplainOptions]) -> int:
    """Print the page about the check or fix, and return exit code 0.

    Raises:
        MeshqcError: There is no check or fix with that id.
    """
    from inspector.cli.streams import style_of
    from inspector.report.document import json_text
    from inspector.report.reference import lookup, page_text
    from inspector.report.reference_document import page_document

    subject = lookup(arguments.options.id)
    if arguments.options.json:
        sys.stdout.write(json_text(page_document(subject)))
    else:
        sys.stdout.write(page_text(subject, style_of(sys.stdout, arguments.options.color)))
    return 0


COMMAND = Command(
    name="explain",
    topic=Topic.REFERENCE,
    summary="Explain a check or a fix.",
    options=ExplainOptions,
    add_options=add_options,
    run=run,
    usage="ID",
    notes=PRINTED_EXIT_CODES,
    examples=("meshqc explain uv-mismatch", "meshqc explain scale"),
)
