"""`meshqc manual`: show pages of the manual, or search them."""

from __future__ import annotations

import sys

from inspector.cli.command import Arguments, Command, Group, Options, Topic


class ManualOptions(Options):
    """Options of `manual`.

    Attributes:
        page: Name of a page; None for the list of all pages.
        find: The text for which all pages are searched; None to show a page.
    """

    page: str | None
    find: str | None


def add_options(options: Group) -> None:
    """Add the options of `manual`."""
    options.add("page", metavar="TOPIC", nargs="?", help="page to show (default: a list of all pages)")
    options.add("--find", metavar="WORD", help="list the pages that contain this word or phrase")


def run(arguments: Arguments[ManualOptions]) -> int:
    """Print a page, the list of all pages, or the pages that contain a text.

    Returns:
        Exit code 0, or 1 if no page contains the text.

    Raises:
        MeshqcError: There is no such page.
    """
    from pydoc import pager

    from inspector.cli.manual_pages import contents, find, hits_text, page

    options = arguments.options
    if options.find is not None:
        hits = find(options.find)
        sys.stdout.write(hits_text(options.find, hits))
        return 0 if hits else 1
    text = contents() if options.page is None else page(options.page)
    if sys.stdout.isatty() and options.page is not None:
        pager(text)
    else:
        sys.stdout.write(text)
    return 0


COMMAND = Command(
    name="manual",
    topic=Topic.REFERENCE,
    summary="Show a page of the manual, or search it.",
    options=ManualOptions,
    add_options=add_options,
    run=run,
    usage="[TOPIC]",
    notes="""\
exit codes:
  0  done
  1  with --find: no page contains the text
  2  failed (invalid options), or stopped with Ctrl-C
""",
    examples=("meshqc manual", "meshqc manual symptoms", "meshqc manual --find reference"),
)
