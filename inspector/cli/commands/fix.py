"""`meshqc fix`: write a corrected folder and verify it."""

from __future__ import annotations

from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import Arguments, Command, Group, Operand, Topic
from inspector.units import METRES

FORMS = {
    "obj": "OBJ frames, even if there is nothing to fix",
    "usd": "one scene file with time samples (needs the extra `usd`)",
    "abc": "one Alembic archive with time samples",
    "glb": "one GLB per frame",
    "ply": "one PLY per frame",
    "stl": "one STL per frame",
    "off": "one OFF per frame",
}
"""Value of `--as` -> description of the written files."""


class FixOptions(shared.ReportOptions):
    """Options of `fix`. A value that isn't given is None, except that `add` and `without` are empty.

    Attributes:
        output: The corrected folder.
        add: Fixes given with `--with`, and their parameters.
        all: Whether all fixes for the findings are applied.
        normalise: The axis that points up in the source, given with `--normalise`.
        without: Ids of the fixes to leave out.
        only: Fixes given with `--only`, and their parameters.
        plan: File of a saved plan.
        form: A key of FORMS. If None, OBJ frames are written, but only if there is something to fix.
        unit: Unit of length of the scene.
        share_textures: Whether GLB frames refer to texture files instead of containing the textures.
        dry_run: Whether the plan is only shown.
        save: The file in which the plan is saved.
        json: Whether the plan and the outcome are printed as JSON.
    """

    output: Path | None
    add: list[values.FixWords]
    all: bool
    normalise: str | None
    without: list[str]
    only: list[values.FixWords] | None
    plan: Path | None
    form: str | None
    unit: str | None
    share_textures: bool
    dry_run: bool
    save: Path | None
    json: bool


def add_options(options: Group) -> None:
    options.add("--output", metavar="OUT", type=values.path, help="new folder for the corrected frames")
    group = options.group("fixes to apply (default: the lossless fixes for the findings)")
    fix = "FIX[:key=value,...]"
    added = "add this fix, such as replace-missing-maps:by=drop; repeatable; meshqc explain FIX lists its parameters"
    group.add("--with", dest="add", metavar=fix, type=values.fix, action="append", default=[], help=added)
    group.add("--all", action="store_true", help="add all fixes for the findings, including fixes that change data")
    group.add(
        "--normalise",
        choices=("y", "z"),
        nargs="?",
        const="y",
        help="also centre the object at the origin, scale its longest side to --size, make y the up axis "
        "(--normalise z: z is up in the source), and number the frames 0001, 0002 ...",
    )
    group.add("--without", metavar="FIX", action="append", default=[], help="leave this fix out; repeatable")
    group.add("--only", metavar=fix, type=values.fix, action="extend", nargs="+", help="apply only these fixes")
    group.add(
        "--invent-at-most",
        metavar="FRAMES",
        type=values.count,
        help="maximum number of frames that a fix may add to a sequence (without this option: a tenth of its frames, "
        "and no more than 3 in a row)",
    )
    group.add("--plan", metavar="PLAN.json", type=values.path, help="apply the fixes of this saved plan")
    shared.statements(options)
    shared.sources(options)
    shared.measuring(options)
    group = options.group("output format (default: OBJ frames, written only if there is something to fix)")
    group.add(
        "--as", dest="form", choices=tuple(FORMS), help="; ".join(f"{word}: {what}" for word, what in FORMS.items())
    )
    group.add("--unit", choices=tuple(METRES), help="length of one scene unit, for usd and glb")
    group.add(
        "--share-textures",
        action="store_true",
        help="for glb: write each texture once, beside the frames (default: inside each frame)",
    )
    options.add("--dry-run", action="store_true", help="show the plan and write nothing")
    options.add("--save", metavar="PLAN.json", type=values.path, help="save the plan for reuse on the next export")
    shared.json(options, "the plan and the outcome")
    shared.report(options)


def run(arguments: Arguments[FixOptions]) -> int:
    """Plan the fixes, and write and verify the corrected folder.

    Returns:
        Exit code 0, 1 (an error remains, a finding that the plan was meant to fix remains, or a warning is new) or 2
        (there is no sequence, a check failed, or a fix that was named in the options was refused).
    """
    from inspector.cli.fixing import fix_folder

    return fix_folder(arguments)


COMMAND = Command(
    name="fix",
    topic=Topic.DELIVER,
    summary="Write a corrected folder and verify it.",
    options=FixOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder to correct; it is never changed"),
    usage="--output OUT",
    notes="""\
exit codes:
  0  no error remains, the plan fixed the findings that it was meant to fix,
     and there is no new warning
  1  one of these conditions is not met (with --dry-run: there is an error)
  2  failed (invalid options, an unreadable folder, a failed check, a refused
     fix that --with, --only or --plan names), or stopped with Ctrl-C

Refused fixes that these options don't name are only listed in the plan, as
"refused:". They don't cause exit code 2.
""",
    examples=(
        "meshqc fix harbour/kelp_broken --output harbour_kelp",
        "meshqc fix harbour/kelp_broken --all --dry-run --save kelp.json",
        "meshqc fix harbour/kelp_broken --output harbour_planned --plan kelp.json",
        "meshqc fix harbour/manta --output harbour_half --only scale:factor=0.5",
        "meshqc fix harbour/manta --output harbour_normal --normalise --size 2",
        "meshqc fix harbour/manta --output harbour_scene --as usd --unit m --fps 25",
    ),
)
