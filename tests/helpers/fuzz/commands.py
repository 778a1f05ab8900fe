"""Run the operations of all commands on one folder, in this process. There must be no internal error and no wrong
delivery.

A refusal (`Refusal`) is always a correct answer, but a delivery that was planned must not fail.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from inspector.delivery.audit import audit
from inspector.delivery.choices import Choice, all_choices, lossless_choices
from inspector.delivery.deliver import Delivery, deliver
from inspector.delivery.plan import Plan
from inspector.delivery.plan_file import plan_from_json, plan_to_json
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form
from inspector.errors import MeshqcError, Refusal
from inspector.fixes.base.registry import all_fixes
from inspector.formats.problems import Problem
from inspector.inspection.arrivals import Arrivals
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.lettering.sequence_fit import FitRequest, SequenceFit, fit_sequence, read_lettering
from inspector.lettering.still_pictures import Appearance, draw_frames
from inspector.lettering.template_fit import template_of
from inspector.lettering.viewpoint import View
from inspector.picture.grid import grid_of_aspect
from inspector.picture.svg import template_svg
from inspector.picture.template import draw_template
from inspector.report.audit import audit_document, audit_text
from inspector.report.difference_words import difference_text, same_words
from inspector.report.formats import Request, all_formats
from inspector.report.html.gather import gather
from inspector.report.html.page import html_text
from inspector.report.plan_text import delivery_text, plan_text
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.receipt_marks import corrected_frames
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.frame_difference import differences
from inspector.sequence.run.scan import load_frame
from inspector.sequence.run.watch import watch
from inspector.sequence.series import Series

PARAMETERS: Mapping[str, Sequence[Mapping[str, object]]] = {
    "scale": [{"factor": 0.01}, {"factor": 7}, {"factor": 1e30}, {"factor": 1e-30}, {"from": "cm", "to": "m"}],
    "offset": [{"x": 1.5, "y": -2}, {"z": 1e9}, {"to": "origin"}],
    "align": [{"at": "centre"}, {"at": "ground", "up": "y"}, {"at": "ground", "up": "z"}],
    "up-axis": [{"to": "z"}, {"to": "y"}],
    "handedness": [{"axis": "x"}, {"axis": "z"}],
    "every-nth": [{"n": 2}, {"n": 3}],
    "retime": [{"from": 24, "to": 25}, {"from": 25, "to": 10}, {"from": 24, "to": 60, "way": "smooth"}],
    "renumber": [{"start": 1001}, {"padding": 6}, {}],
    "fill-frames": [{}, {"mode": "hold"}, {"mode": "blend"}],
    "recompute-normals": [{}, {"weight": "area"}, {"hard": 30}, {"hard": "groups"}],
    "uv-grid": [{}, {"aspect": 2}],
    "uv-planar": [{}, {"axis": "y"}, {"fit": "fill"}],
    "uv-into-square": [{}, {"aspect": 2}],
    "uv-mirror": [{"axis": "u"}, {"axis": "v"}, {}],
    "uv-turn": [{"degrees": 90}, {"degrees": 180}, {}],
    "replace-missing-maps": [{"by": "drop"}, {"by": "grid"}],
    "keep-objects": [{"names": "body"}, {"names": "fin"}],
}
"""Parameters to choose from, by fix. Fixes that are not listed are tried without parameters."""

DRAWN = 0.04
"""Fraction of the folders for which pictures are drawn. Drawing takes ten times as long as everything else together."""

DELIVERED = 0.3
"""Fraction of the plans that are saved, read again and delivered.

It is low because delivering takes as long as all steps before it.
"""

FORMS = ("ply", "stl", "off", "glb")


def try_commands(folder: Path, work: Path, chance: random.Random) -> list[str]:
    """Run the operations of all commands on `folder`, with output to the empty folder `work`.

    Returns:
        Names of the operations that were tried, and the ids of the delivered fixes.
    """
    before = _content(folder)
    settings = Settings(size=chance.choice([None, None, 1.0, 1e6]), rate=chance.choice([None, Fraction(24)]))
    result = inspect_folder(folder, settings)
    _sound(result)
    report(result, folder)
    tried = ["check"]
    if chance.random() < DRAWN:
        fit_and_draw(result)
        page(result)
        tried.append("pictures")
    _watch(folder, settings)
    for number in range(1 + (chance.random() < 0.3)):
        tried += _fix(result, work / str(number), chance)
    assert _content(folder) == before, "a source file was written to"
    return tried


def _sound(result: FolderInspection) -> None:
    for inspection in result.inspections:
        assert inspection.verdict.failed == (), inspection.verdict.failed
        problems: list[Problem] = [problem for facts in inspection.series.facts for problem in facts.problems]
        assert "not-measured" not in {problem.kind for problem in problems}, problems


def report(result: FolderInspection, folder: Path) -> None:
    for one in all_formats().values():
        if one.id != "html":
            one.render(result, Request(folder))


def page(result: FolderInspection, plan: Plan | None = None, delivery: Delivery | None = None) -> None:
    gathered = gather(result, lambda *_: None, plan, delivery)
    for shown in gathered.sequences:
        assert not any("an internal error in meshqc" in why for why in shown.why.values()), shown.why
    html_text(gathered)


def fit_and_draw(result: FolderInspection) -> None:
    """For each sequence, fit the texture, draw the template, and draw pictures of two frames."""
    for inspection in result.inspections:
        _fit_and_draw(inspection.series)


def _fit_and_draw(series: Series) -> None:
    fit: SequenceFit | None = None
    try:
        fit = fit_sequence(series, FitRequest(captions=("KELP",)))
        read_lettering(fit)
    except MeshqcError:
        pass
    if fit is not None:
        try:
            template = template_of(fit)
        except MeshqcError:
            template = None
        if template is not None:
            template_svg(template)
            if template.width * template.height < 1 << 18:
                draw_template(template)
    try:
        shot = View(width=40, height=30).shot(series)
        texture = None if fit is None else grid_of_aspect(fit.material.wanted_aspect, 32)
        indices = [index for index in range(len(series.facts)) if series.usable[index]][:2]
        list(draw_frames(series, indices, shot, [Appearance(texture)], lambda *_: None))
    except MeshqcError:
        pass


def _watch(folder: Path, settings: Settings) -> None:
    arrivals, left = Arrivals(settings), [True, False]
    for look in watch(folder, lambda _: left.pop(0)):
        arrivals.take(look)


def _choose(result: FolderInspection, chance: random.Random) -> list[Choice]:
    """Choose fixes as a user might: all lossless fixes for the findings, all fixes for the findings, or a few random
    fixes."""
    what = chance.random()
    if what < 0.2:
        return list(lossless_choices(result))
    if what < 0.4:
        return list(all_choices(result))
    fixes = chance.sample([fix.id for fix in all_fixes()], chance.choice([1, 1, 1, 2, 3]))
    return [Choice(fix, chance.choice(PARAMETERS.get(fix, [{}]))) for fix in fixes]


def _fix(result: FolderInspection, work: Path, chance: random.Random) -> list[str]:
    """Plan fixes, deliver some of the plans, audit the deliveries, and compare them with the source.

    Returns:
        "plan" if the plan was not delivered; otherwise "delivery", the ids of the fixes, and the format if the files
        were converted. Empty if the plan or the delivery was refused, or if there was nothing to deliver.
    """
    choices = _choose(result, chance)
    try:
        plan = make_plan(result, choices)
    except Refusal:
        return []
    plan_text(plan, TextStyle())
    if chance.random() > DELIVERED:
        return ["plan"]
    make_plan(result, plan_from_json(plan_to_json(plan)).choices)
    form = Form(chance.choice(FORMS)) if chance.random() < 0.15 else None
    if not plan.steps and form is None:
        return []
    work.mkdir()
    out = work / "out"
    try:
        delivery = deliver(plan, out, form=form)
    except Refusal:
        assert not out.exists()
        return []
    except MeshqcError as error:
        raise AssertionError(f"{[(step.fix, step.parameters) for step in plan.steps]}: {error}") from error
    _sound(delivery.after)
    delivery_text(delivery, TextStyle())
    later = audit(out, Settings(), lambda *_: None)
    audit_text(later, TextStyle())
    audit_document(later)
    assert later.proven, (choices, later.changed, later.missing, later.extra, later.disputed, later.new)
    if form is None:
        _compare(result, out)
    if chance.random() < DRAWN / 4:
        page(delivery.after, plan, delivery)
    return ["delivery", *{step.fix for step in plan.steps}, *([] if form is None else [f"as {form.id}"])]


def _compare(result: FolderInspection, out: Path) -> None:
    for one in result.inspections:
        here = [facts.file for facts in one.series.facts if facts.readable][:2]
        for file, made in zip(here, corrected_frames(here, result.root, out), strict=True):
            if made.path.exists():
                found = differences(load_frame(file.path), load_frame(made.path))
                same_words(found)
                [difference_text(difference) for difference in found]


def _content(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
