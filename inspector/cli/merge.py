"""`meshqc merge`: the verdict on a folder whose frames were measured in parts."""

from __future__ import annotations

from inspector.cli.arguments import Arguments
from inspector.cli.check import tell
from inspector.cli.html_page import refuse_page_early
from inspector.inspection.inspection import check_folder
from inspector.sequence.discovery.discover import discover
from inspector.sequence.run.shards import merge_parts


def run(arguments: Arguments) -> int:
    """Exit codes as those of `meshqc check`."""
    refuse_page_early(arguments)
    discovery = discover(arguments.folder)
    measured = merge_parts(arguments.options.parts, discovery.root, discovery.sequences)
    return tell(check_folder(discovery, measured, arguments.settings), arguments)
