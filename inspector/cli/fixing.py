"""Run `meshqc fix`: plan the fixes for the findings, write the corrected folder, and verify it."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from inspector.checks.base.finding import Severity
from inspector.cli.after_fix import FixRequest, steps_after_fix, steps_after_refusal
from inspector.cli.command import Arguments, UsageError
from inspector.cli.commands.fix import FixOptions
from inspector.cli.exit_codes import FOUND, fail, say
from inspector.cli.inspecting import incomplete, inspect, name_rules
from inspector.cli.reporting import page_destination, write_page
from inspector.cli.streams import ProgressLine, style_of
from inspector.delivery.choices import serious
from inspector.delivery.deliver import Delivery, deliver, refuse_form
from inspector.delivery.destination import place_for, refuse_unwritable
from inspector.delivery.losses import form_losses, joined, source_losses
from inspector.delivery.output_file import write_over
from inspector.delivery.plan import Plan
from inspector.delivery.plan_file import SavedPlan, plan_from_json, plan_to_json, with_statements
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form, limits, texture_bytes
from inspector.errors import MeshqcError, Refusal
from inspector.formats.registry import format_by_id
from inspector.inspection.inspection import FolderInspection
from inspector.names import Name
from inspector.report.command_options import statement_options
from inspector.report.document import Json, head, json_text, verdict
from inspector.report.plan_text import delivery_text, plan_text
from inspector.report.text import verdict_text
from inspector.report.text_style import TextStyle
from inspector.safe_open import read_file
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.sequence.discovery.scope import Scope

_DONOR_FIXES = {"uv-donor", "uv-nearest"}
"""Ids of the fixes that take UVs from the file given with `--uvs-from`."""


def fix_folder(arguments: Arguments[FixOptions]) -> int:
    """Plan the fixes, print the plan, and write and verify the corrected folder.

    Returns:
        Exit code 0, 1 (an error remains, a finding that the plan was meant to fix remains, or a warning is new) or 2
        (there is no sequence, a check failed, or a fix that was named in the options was refused).

    Raises:
        UsageError: The options contradict each other, or an option is missing.
        MeshqcError: A file can't be read or written, or the frames can't be written in the chosen format.
    """
    out = _destination(arguments)
    page = page_destination(arguments)
    saved = None if arguments.options.plan is None else _read_plan(arguments.options.plan)
    if saved is not None:
        arguments = _with_statements(arguments, saved)
    before = inspect(arguments)
    name_rules(before.settings)
    if not before.inspections:
        return fail(incomplete(before) or "")
    request = FixRequest(before, arguments.folder, arguments.options, saved)
    try:
        plan = make_plan(before, request.choices)
    except Refusal as refusal:
        code = fail(str(refusal))
        if not arguments.options.json:
            _print_steps(steps_after_refusal(request, refusal), arguments)
        return code
    _name_unused_donor(plan, arguments)
    if arguments.options.save is not None:
        _save_plan(arguments.options.save, plan, before.root)
    form = _form(before, arguments.options)
    if form is not None:
        refuse_form(plan, form)
    if not plan.steps and arguments.options.form is None:
        out = None  # nothing to correct
    if not arguments.options.json:
        sys.stdout.write(plan_text(plan, style_of(sys.stdout, arguments.options.color)))
        sys.stdout.write(_form_text(before, form, style_of(sys.stdout, arguments.options.color)))
        sys.stdout.flush()
    delivery = None if out is None else _deliver(plan, out, form)
    _print(request, plan, delivery, arguments)
    write_page(page, before, plan, delivery)
    after = before if delivery is None else delivery.after
    if broken := incomplete(after):
        return fail(broken)
    left = before.count(Severity.ERROR) > 0 if delivery is None else delivery.errors or not delivery.proof.clean
    return FOUND if left else 0


def _name_unused_donor(plan: Plan, arguments: Arguments[FixOptions]) -> None:
    """Report that the file given with `--uvs-from` is not used, if no planned or refused fix takes UVs from it."""
    considered = {step.fix for step in plan.steps} | {one.fix for part in plan.sequences for one in part.refused}
    if arguments.settings.uvs_from is None or considered & _DONOR_FIXES:
        return
    options = arguments.options
    if not any(_DONOR_FIXES.intersection(one.fixes) for part in plan.sequences for one in serious(part.inspection)):
        why = "no finding needs this file"
    elif options.plan is not None:
        why = "the saved plan contains no fix that takes UVs from this file"
    elif options.only is not None:
        why = "--only doesn't include uv-donor; add uv-donor to --only"
    else:
        why = f"uv-donor is not chosen; add {'' if options.all else '--all or '}--with uv-donor"
    say(f"--uvs-from is not used: {why}")


def _with_statements(arguments: Arguments[FixOptions], saved: SavedPlan) -> Arguments[FixOptions]:
    """Add those statements of the saved plan that the command line doesn't make, and print them on stderr."""
    settings = with_statements(arguments.settings, saved.stated)
    given = set(statement_options(arguments.settings))
    taken = [words for words in statement_options(settings) if words not in given]
    if taken:
        say(f"stated in the plan: {' '.join(taken)}")
    return replace(arguments, settings=settings)


def _destination(arguments: Arguments[FixOptions]) -> Path | None:
    """Check the options before any frame is read, and return the corrected folder; None for a dry run.

    Raises:
        UsageError: The options contradict each other, or an option is missing.
        MeshqcError: A folder or file can't be written, or a format needs a package that is not installed.
    """
    out, options = arguments.options.output, arguments.options
    changed = options.add or options.all or options.without or options.normalise
    if options.plan is not None and (changed or options.only):
        raise UsageError("--plan determines the fixes; leave out --with, --without, --only, --all and --normalise")
    if options.only is not None and changed:
        raise UsageError("--only determines the fixes; leave out --with, --without, --all and --normalise")
    scene = None if options.form in (None, "obj") else format_by_id(options.form).scene
    if scene is not None:
        scene.need()
    if options.unit is not None and options.form not in ("usd", "glb"):
        raise UsageError("--unit needs --as usd or --as glb; the other formats have no unit")
    if options.share_textures and options.form != "glb":
        raise UsageError("--share-textures needs --as glb; the other formats contain no textures")
    if options.save is not None:
        _refuse_save(options.save, arguments.folder)
    if options.dry_run:
        return None
    if out is None:
        raise UsageError("--output OUT is missing: name a new folder for the corrected copy, or add --dry-run")
    place_for(out, (arguments.folder, *arguments.settings.textures))
    return out


def _form(before: FolderInspection, options: FixOptions) -> Form | None:
    if options.form in (None, "obj"):
        return None
    return Form(options.form, options.unit, before.settings.rate, options.share_textures)


def _form_text(before: FolderInspection, form: Form | None, style: TextStyle) -> str:
    """Describe what the corrected frames lose, and what other programs will assume when they read them."""
    lost = source_losses(before)
    lines = [] if form is None else _form_lines(before, form)
    lost = lost if form is None else joined(lost, form_losses(before, form.format))
    for one in lost:
        which = f" from {one.sequence}" if len(before.inspections) > 1 else ""
        lines += [f"not carried over{which}: {line}" for line in one.lines()]
    return "".join(f"{row}\n" for line in lines for row in style.wrap(line, "", "    "))


def _form_lines(before: FolderInspection, form: Form) -> list[str]:
    lines = [f"as {form.format.title}: {limits(form)}"]
    textures, files = texture_bytes(before, form), sum(len(one.series.facts) for one in before.inspections)
    if textures and not form.share_textures and files > 1:
        size = f"{textures / files / 1e6:.3g} MB of textures ({textures / 1e6:.3g} MB in all files together)"
        lines.append(
            f"each of the {files:,} files contains {size}; --share-textures writes each texture once, beside the files"
        )
    if form.unit is None and form.id == "usd":
        lines.append("no unit is stated (--unit): readers assume 0.01 m per unit")
    if form.unit is None and form.id == "glb":
        lines.append("no unit is stated (--unit): coordinates are written unchanged, and readers assume metres")
    gaps = [number for one in before.inspections for number in one.sequence.missing]
    if gaps and form.id == "usd":
        lines.append(f"the object is hidden in {numbers_text(gaps)}, for which no file exists")
    if form.rate is None and form.id == "abc":
        lines.append("no frame rate is stated (--fps): the samples are written at 24 fps")
    return lines


def _deliver(plan: Plan, out: Path, form: Form | None) -> Delivery:
    with ProgressLine() as line:

        def progress(doing: str, done: int, of: int) -> None:
            line.show(f"{doing}: {done:,} of {of:,}")

        return deliver(plan, out, progress, form=form)


def _print(request: FixRequest, plan: Plan, delivery: Delivery | None, arguments: Arguments[FixOptions]) -> None:
    if arguments.options.json:
        sys.stdout.write(json_text(_document(request.inspection, plan, delivery)))
        return
    if delivery is None:
        empty = not any(one.steps or one.refused for one in plan.sequences) and not request.options.dry_run
        copy = "; to write a verified copy, add --as obj" if empty else ""
        say(f"nothing was written; findings in the folder: {verdict_text(request.inspection)}{copy}")
        after, out = request.inspection, None
    else:
        sys.stdout.write(delivery_text(delivery, style_of(sys.stdout, arguments.options.color)))
        sys.stdout.flush()
        after, out = delivery.after, delivery.out
    with ProgressLine() as line:
        steps = steps_after_fix(
            request, plan, after, out, lambda done, of: line.show(f"trying further fixes: {done:,} of {of:,}")
        )
    _print_steps(steps, arguments)


def _print_steps(steps: Sequence[str], arguments: Arguments[FixOptions]) -> None:
    style = style_of(sys.stdout, arguments.options.color)
    sys.stdout.writelines(f"{style.plain(step)}\n" for step in steps)


def _document(before: FolderInspection, plan: Plan, delivery: Delivery | None) -> Json:
    return {
        **head(),
        "plan": json.loads(plan_to_json(plan)),
        "before": verdict(before),
        "after": None if delivery is None else verdict(delivery.after),
        "out": None if delivery is None else Name.from_path(delivery.out).text,
        "receipt": None if delivery is None else RECEIPT_NAME,
    }


def _read_plan(path: Path) -> SavedPlan:
    """Read a plan file.

    Raises:
        MeshqcError: The file, named in the message, can't be read, or is not a plan.
    """
    name = Name.from_path(path)
    try:
        return plan_from_json(read_file(path).decode())
    except OSError as error:
        raise MeshqcError(f"{name}: can't be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise MeshqcError(f"{name}: not a plan, because the file is not UTF-8 text") from error
    except MeshqcError as error:
        raise MeshqcError(f"{name}: {error}") from error


def _save_plan(path: Path, plan: Plan, source: Path) -> None:
    """Write the plan to a new file, or replace an existing plan.

    Raises:
        Refusal, MeshqcError: For the same reasons as `_refuse_save`.
        OSError: The file can't be written.
    """
    _refuse_save(path, source)
    write_over(path, plan_to_json(plan).encode("ascii"))


def _refuse_save(path: Path, source: Path) -> None:
    """Check the path at which a plan is to be saved.

    Raises:
        Refusal: The path is in the source folder, or something that is not a plan exists at the path.
        MeshqcError: The folder of the path doesn't exist or can't be written to.
    """
    name = Name.from_path(path)
    if not path.parent.is_dir():
        raise MeshqcError(f"{Name.from_path(path.parent)}: no such folder; create it first")
    if Scope(source).contains(path):
        raise Refusal(
            f"{name} is inside the folder to correct, and meshqc never writes to that folder; choose another folder"
        )
    if os.path.lexists(path) and not _is_plan(path):
        raise Refusal(f"{name} already exists and is not a plan; choose another name")
    refuse_unwritable(path.parent)


def _is_plan(path: Path) -> bool:
    try:
        _read_plan(path)
    except MeshqcError:
        return False
    return True
