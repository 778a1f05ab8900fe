"""`meshqc pack`: pack a delivery, together with its proof."""

from __future__ import annotations

import sys
from pathlib import Path

from inspector.cli import values
from inspector.cli.command import Arguments, Command, Group, Operand, Options, Topic, UsageError
from inspector.units import METRES


class PackOptions(Options):
    """Options of `pack`.

    Attributes:
        output: The package: a new ZIP file or folder.
        add: Additional files to pack.
        captions: The file with the caption versions; None for captions.toml beside the frames.
        unit: Unit of length of the scene; None if the option isn't given.
    """

    output: Path
    add: list[Path]
    captions: Path | None
    unit: str | None


def add_options(options: Group) -> None:
    options.add(
        "--output",
        metavar="PACKAGE",
        type=values.path,
        required=True,
        help="new package: a ZIP file if the name ends in .zip, otherwise a folder",
    )
    options.add(
        "--add",
        metavar="FILE",
        type=values.file,
        action="append",
        default=[],
        help="also pack this file (for example, a movie or a template) in proof/; repeatable",
    )
    options.add(
        "--captions",
        metavar="FILE",
        type=values.file,
        help="TOML or CSV file with the caption versions to draw (default: captions.toml beside the frames)",
    )
    options.add("--unit", choices=tuple(METRES), help="length of one scene unit, for the hand-off note")
    options.add("--fps", metavar="RATE", type=values.rate, help="frames per second (default: as in the receipt)")


def run(arguments: Arguments[PackOptions]) -> int:
    """Verify the delivery, and pack it with its proof.

    Returns:
        Exit code 0; 1 if the folder differs from the delivery or has new findings. Such a folder is not packed.

    Raises:
        UsageError: Two files of the package would have the same name.
        MeshqcError: The folder or its receipt can't be read, or the package can't be written.
    """
    from inspector.cli.exit_codes import FOUND, say
    from inspector.cli.inspecting import progress
    from inspector.cli.quoting import quoted
    from inspector.cli.streams import ProgressLine
    from inspector.delivery.audit import audit
    from inspector.delivery.destination import place_for
    from inspector.delivery.pack import frames_to_show, pack
    from inspector.names import Name, counted
    from inspector.report.audit import left_words
    from inspector.report.html.gather import gather
    from inspector.report.package import PAGE_NAME, PROOF, SHEET_NAME, package_files
    from inspector.safe_open import read_file
    from inspector.sequence.discovery.scope import Scope

    options = arguments.options
    name, delivery = Name.from_path(arguments.folder), arguments.folder.resolve().name
    place = place_for(options.output, [arguments.folder.resolve()])
    added: dict[str, bytes] = {}
    for path in options.add:
        inside = f"{PROOF}/{path.name}"
        if inside in (*added, PAGE_NAME, SHEET_NAME):
            raise UsageError(
                f"--add {Name.from_path(path)}: {PROOF}/ would contain two files with this name; rename the file"
            )
        added[inside] = read_file(path)
    with ProgressLine() as line, progress() as checked:

        def show(what: str, at: int, of: int) -> None:
            line.show(f"{what}: {at:,} of {of:,}")

        found = audit(arguments.folder, arguments.settings, lambda at, of: show("comparing", at, of), checked)
        if not found.proven:
            details = f"meshqc verify {quoted(arguments.folder)}"
            say(f"{name}: not packed, because it differs from the receipt or has new findings; for details: {details}")
            return FOUND
        with frames_to_show(arguments.folder, found, place, show) as result:
            captions = None
            if options.captions is not None:
                file = options.captions.resolve()
                captions = file, Scope(result.root, (file.parent,))
            page = gather(
                result,
                lambda _, what, at, of: show(what, at, of),
                captions=captions,
                elsewhere=None if result is found.after else found.after.root,
            )
            left = left_words(result)
            ours = package_files(Name.from_path(delivery), page, options.unit, line.show, added)
        if delivery in {path.partition("/")[0] for path in ours}:
            raise UsageError(
                f"{name}: the package contains another file or folder with this name; rename the delivered folder"
            )
        done = pack(arguments.folder, found, place, {**ours, **added}, show)
    if left:
        say(f"caution: {left} remaining in the packed frames")
    if options.captions is not None and not page.sequences:
        say("caution: no captions were drawn, because no sequence was found")
    for shown in page.sequences:
        if "captions" in shown.why:
            say(f"caution: {shown.title}: no captions were drawn: {shown.why['captions']}")
    digest = f", SHA-256 {done.digest}" if done.digest else ""
    sys.stdout.write(f"{Name.from_path(options.output)}: {counted(done.files, 'file')}, {done.size:,} bytes{digest}\n")
    return 0


COMMAND = Command(
    name="pack",
    topic=Topic.DELIVER,
    summary="Pack a delivery and its proof.",
    options=PackOptions,
    add_options=add_options,
    run=run,
    folder=Operand("OUT", "folder that meshqc fix wrote; it is never changed"),
    usage="--output PACKAGE",
    notes="""\
exit codes:
  0  the package was written, read back and verified
  1  the folder differs from its receipt or has new findings; nothing was
     written
  2  failed (no readable receipt, an output file that already exists), or
     stopped with Ctrl-C
""",
    examples=(
        "meshqc fix harbour/kelp_broken --output harbour_kelp",
        "meshqc pack harbour_kelp --output harbour_kelp.zip --unit m --fps 25",
    ),
)
