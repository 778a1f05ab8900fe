"""`meshqc pack`: a delivery and its proof as one package."""

from __future__ import annotations

import sys
from pathlib import Path

from inspector.cli import values
from inspector.cli.command import Arguments, Command, Group, Operand, Options, Topic, UsageError


class PackOptions(Options):
    """Options of `pack`.

    Attributes:
        output: the package, a new ZIP file or folder.
        add: files that go along.
    """

    output: Path
    add: list[Path]


def add_options(options: Group) -> None:
    """Options of `pack`."""
    options.add(
        "--output",
        metavar="PACKAGE",
        type=Path,
        required=True,
        help="new: a ZIP file if it ends in .zip, else a folder",
    )
    options.add(
        "--add",
        metavar="FILE",
        type=values.file,
        action="append",
        default=[],
        help="put this file into proof/ as well: a movie, a caption's texture (repeatable)",
    )


def run(arguments: Arguments[PackOptions]) -> int:
    """Exit code 0, 1 (the folder is not what was delivered, so nothing was packed) or 2."""
    from inspector.cli.exit_codes import FOUND, say
    from inspector.cli.inspecting import progress
    from inspector.cli.streams import ProgressLine
    from inspector.delivery.audit import audit
    from inspector.delivery.destination import place_for
    from inspector.delivery.pack import PROOF, pack
    from inspector.names import Name, counted
    from inspector.report.html.gather import gather
    from inspector.report.html.page import html_text
    from inspector.safe_open import read_file

    options = arguments.options
    place = place_for(options.output, [arguments.folder.resolve()])
    added: dict[str, bytes] = {}
    for path in options.add:
        if path.name in added or path.name == _PAGE:
            raise UsageError(f"--add {Name.from_path(path)}: two files of this name would be in {PROOF}/")
        added[path.name] = read_file(path)
    with ProgressLine() as line, progress() as checked:

        def show(what: str, at: int, of: int) -> None:
            line.show(f"{what}: {at:,} of {of:,}")

        found = audit(arguments.folder, arguments.settings, lambda at, of: show("comparing", at, of), checked)
        if not found.proven:
            name = Name.from_path(arguments.folder)
            say(f"{name}: not what was delivered, so it was not packed; see meshqc verify {name}")
            return FOUND
        page = html_text(gather(found.after, lambda *_: line.show("drawing the page")))
        added = {_PAGE: page.encode(), **added}
        done = pack(arguments.folder, found, place, added, show)
    digest = f", SHA-256 {done.digest}" if done.digest else ""
    sys.stdout.write(f"{Name.from_path(options.output)}: {counted(done.files, 'file')}, {done.size:,} bytes{digest}\n")
    return 0


_PAGE = "report.html"

COMMAND = Command(
    name="pack",
    topic=Topic.DELIVER,
    summary="Pack a delivery and its proof.",
    options=PackOptions,
    add_options=add_options,
    run=run,
    folder=Operand("OUT", "a folder that meshqc fix wrote; it is only read"),
    usage="--output PACKAGE",
    notes="""\
exit codes:
  0  the package was written, read back and verified
  1  the folder is not what was delivered; nothing was written
  2  failed: no readable receipt, or a file that already exists
""",
    examples=(
        "meshqc fix harbour/kelp_broken --output harbour_kelp",
        "meshqc pack harbour_kelp --output harbour_kelp.zip",
    ),
)
