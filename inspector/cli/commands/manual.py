"""`meshqc manual`: show pages of the manual, or search them."""

from __future__ import annotations

import sys

from inspector.cli.command import Arguments, Command, Group, Options, Topic, UsageError


class ManualOptions(Options):
    """Options of `manual`.

    Attributes:
        page: Name of the page to show; None for the list of all pages.
        find: Words to find in all pages; None to show a page.
    """

    page: str | None
    find: list[str] | None


def add_options(options: Group) -> None:
    options.add("page", metavar="TOPIC", nargs="?", help="page to show (default: a list of all pages)")
    options.add(
        "--find",
        metavar="WORD",
        nargs="+",
        help="list the passages that contain this word, or all of these words in any order (a passage is a paragraph, "
        "a heading, a list item, a row of a table or a line of code)",
    )


def run(arguments: Arguments[ManualOptions]) -> int:
    """Print a page, the list of all pages, or the passages that contain all words of a search.

    Returns:
        Exit code 0, or 1 if no passage contains all of the words.

    Raises:
        UsageError: `--find` is given without words, or together with a page.
        MeshqcError: There is no such page.
    """
    from pydoc import pager

    from inspector.cli.manual_pages import contents, find, hits_text, page

    options = arguments.options
    if options.find is not None:
        words = " ".join(options.find).split()
        if options.page is not None or not words:
            raise UsageError("--find needs words, and can't be combined with a page; try meshqc manual --find WORD")
        hits = find(words)
        sys.stdout.write(hits_text(words, hits))
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
  1  with --find: no passage contains all of the words
  2  failed (invalid options), or stopped with Ctrl-C
""",
    examples=("meshqc manual", "meshqc manual symptoms", "meshqc manual --find reference frame"),
)
