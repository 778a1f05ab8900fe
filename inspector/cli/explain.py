"""`meshqc explain`: a page about one check or fix."""

from __future__ import annotations

import sys

from inspector.cli.arguments import Arguments
from inspector.cli.streams import look_of
from inspector.report.json import json_text
from inspector.report.reference import lookup, page_text
from inspector.report.reference_document import page_document


def run(arguments: Arguments) -> int:
    """Exit code 0; raises MeshqcError for an id that there isn't."""
    subject = lookup(arguments.options.id)
    as_json = arguments.options.json
    sys.stdout.write(
        json_text(page_document(subject))
        if as_json
        else page_text(subject, look_of(sys.stdout, arguments.options.color))
    )
    return 0
