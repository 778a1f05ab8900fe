"""`meshqc fix`: write a corrected folder and prove it."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from dataclasses import replace

from inspector.checks.base.finding import Severity
from inspector.cli.arguments import Arguments
from inspector.cli.choices import chosen
from inspector.cli.exit_codes import FOUND, fail, say
from inspector.cli.html_page import refuse_page_early, write_page
from inspector.cli.inspecting import incomplete, inspect
from inspector.cli.next_steps import statement_words, steps_after_fix
from inspector.cli.parser import UsageError
from inspector.cli.plan_file import read_plan, refuse_save, save_plan
from inspector.cli.streams import ProgressLine, look_of
from inspector.delivery.deliver import Delivery, deliver
from inspector.delivery.destination import place_for
from inspector.delivery.plan import Plan, make_plan
from inspector.delivery.plan_file import SavedPlan, plan_to_json, with_statements
from inspector.delivery.scene_files import Form, losses
from inspector.formats.registry import format_by_id
from inspector.inspection.inspection import FolderInspection
from inspector.names import Name
from inspector.report.document import Json, head, verdict
from inspector.report.json import json_text
from inspector.report.plan_text import delivery_text, plan_text
from inspector.report.text import verdict_text
from inspector.report.text_style import Look
from inspector.sequence.discovery.receipt_marks import RECEIPT_NAME


def run(arguments: Arguments) -> int:
    """Exit code 0, 1 (an error, or something that was to be answered, is left) or 2 (it could not be done)."""
    _refuse_early(arguments)
    refuse_page_early(arguments)
    saved = None if arguments.options.plan is None else read_plan(arguments.options.plan)
    if saved is not None:
        arguments = _with_statements(arguments, saved)
    before = inspect(arguments)
    if not before.inspections:
        return fail(incomplete(before) or "")
    plan = make_plan(before, chosen(before, arguments.options, saved))
    if arguments.options.save is not None:
        save_plan(arguments.options.save, plan, before.root)
    form = _form(before, arguments.options)
    writes = (bool(plan.steps) or arguments.options.form is not None) and not arguments.options.dry_run
    if not arguments.options.json:
        sys.stdout.write(plan_text(plan, look_of(sys.stdout, arguments.options.color)))
        sys.stdout.write(_about(form, look_of(sys.stdout, arguments.options.color)))
        sys.stdout.flush()
    delivery = _deliver(plan, arguments, form) if writes else None
    _tell(before, plan, delivery, arguments)
    write_page(before, arguments, plan, delivery)
    after = before if delivery is None else delivery.after
    if broken := incomplete(after):
        return fail(broken)
    left = after.count(Severity.ERROR) > 0 or (delivery is not None and not delivery.proof.clean)
    return FOUND if left else 0


def _with_statements(arguments: Arguments, saved: SavedPlan) -> Arguments:
    """What the plan states holds where the command line states nothing, and is told."""
    settings = with_statements(arguments.settings, saved.stated)
    given, whole = set(statement_words(arguments.settings)), statement_words(settings)
    taken = [words for words in whole if words not in given]
    if taken:
        say(f"stated in the plan: {' '.join(taken)}")
    return replace(arguments, settings=settings)


def _refuse_early(arguments: Arguments) -> None:
    """What needs no look at the frames, so that nobody waits for it."""
    out, options = arguments.options.output, arguments.options
    if options.plan is not None and (options.add or options.all or options.without or options.only):
        raise UsageError("--plan says which fixes; leave out --with, --without, --only and --all")
    if options.only is not None and (options.add or options.all or options.without):
        raise UsageError("--only says which fixes; leave out --with, --without and --all")
    scene = None if options.form in (None, "obj") else format_by_id(options.form).scene
    if scene is not None:
        scene.need()
    if options.unit is not None and options.form not in ("usd", "glb"):
        raise UsageError("--unit says what the numbers of --as usd or --as glb stand for; the other forms have no unit")
    if options.save is not None:
        refuse_save(options.save, arguments.folder)
    if options.dry_run:
        return
    if out is None:
        raise UsageError("--output OUT is missing: the folder that will hold the corrected copy (or use --dry-run)")
    place_for(out, (arguments.folder, *arguments.settings.textures))


def _form(before: FolderInspection, options: Namespace) -> Form | None:
    """What the frames become; None: OBJ."""
    if options.form in (None, "obj"):
        return None
    return Form(options.form, options.unit, before.settings.rate)


def _about(form: Form | None, look: Look) -> str:
    """What is lost in that form, and what it takes for granted, before anything is written."""
    if form is None:
        return ""
    lines = [f"as {form.format.title}: {losses(form)}"]
    if form.unit is None and form.id == "usd":
        lines.append("no unit stated (--unit): readers take 0.01 m for one")
    if form.unit is None and form.id == "glb":
        lines.append("no unit stated (--unit): the numbers stay, and readers take metres for them")
    if form.rate is None and form.id == "abc":
        lines.append("no frame rate stated (--fps): the samples are written at 24 fps")
    return "".join(f"{row}\n" for line in lines for row in look.wrap(line, "", "    "))


def _deliver(plan: Plan, arguments: Arguments, form: Form | None) -> Delivery:
    with ProgressLine() as line:

        def progress(doing: str, done: int, of: int) -> None:
            line.show(f"{doing}: {done:,} of {of:,}")

        return deliver(plan, arguments.options.output, progress, form=form)


def _tell(before: FolderInspection, plan: Plan, delivery: Delivery | None, arguments: Arguments) -> None:
    if arguments.options.json:
        sys.stdout.write(json_text(_document(before, plan, delivery)))
    elif delivery is not None:
        steps = steps_after_fix(delivery.after, arguments)
        sys.stdout.write(delivery_text(delivery, steps, look_of(sys.stdout, arguments.options.color)))
    else:
        say(f"nothing was written; the folder as it is: {verdict_text(before)}")


def _document(before: FolderInspection, plan: Plan, delivery: Delivery | None) -> Json:
    return {
        **head(),
        "plan": json.loads(plan_to_json(plan)),
        "before": verdict(before),
        "after": None if delivery is None else verdict(delivery.after),
        "out": None if delivery is None else Name.from_path(delivery.out).text,
        "receipt": None if delivery is None else RECEIPT_NAME,
    }
