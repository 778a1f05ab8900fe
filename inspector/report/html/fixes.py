"""The page's section about planned or applied fixes, and about the verification of a delivery."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from inspector.checks.base.finding import Severity
from inspector.delivery.deliver import Delivery
from inspector.delivery.handoff import HANDOFF_NAME
from inspector.delivery.plan import Plan, SequencePlan
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.preview import previewed
from inspector.fixes.base.registry import fix_by_id
from inspector.names import Name
from inspector.report.html.elements import Element, el, picture, terms
from inspector.report.html.gather import ReportPage
from inspector.report.html.pictures import HEIGHT, WIDTH, FixPictures
from inspector.report.plan_text import nothing_words, proof_words, step_title
from inspector.report.text import sequence_title, verdict_text
from inspector.sequence.discovery.frame_ranges import frames_words

_PLANNED = "Nothing was written."


def fixes_section(page: ReportPage) -> Element:
    done = page.delivery is not None
    return el(
        "section",
        el("h2", "Fixes done" if done else "Fixes planned", id="fixes", tabindex="-1"),
        el("p", f"no plan could be made: {page.no_plan}") if page.no_plan else None,
        None if done or page.plan is None or not page.plan.steps else el("p", _PLANNED),
        None if page.plan is None else list(_plan(page.plan, page.changes)),
        None if page.delivery is None else list(_delivery(page.delivery)),
        aria_labelledby="fixes",
    )


def _plan(plan: Plan, changes: Mapping[tuple[str, str], FixPictures]) -> Iterator[Element]:
    with_steps = [one for one in plan.sequences if one.steps or one.refused]
    if not with_steps:
        yield el("p", nothing_words(plan))
    for one in with_steps:
        yield el("h3", sequence_title(one.inspection.sequence))
        steps = [_step(step, one, changes.get((one.key, step.fix))) for step in one.steps]
        yield el("ol", [el("li", step) for step in steps], class_="steps")
        for refused in one.refused:
            where = frames_words(refused.frames, one.inspection.sequence)
            yield el("p", f"refused: {refused.fix}{where}: {refused.reason}")


def _step(step: AnyStep, one: SequencePlan, pictures: FixPictures | None) -> Iterator[Element]:
    fix = fix_by_id(step.fix)
    yield el("h4", f"{fix.title}: {step_title(step, one.inspection)}")
    yield el("p", step.summary)
    if fix.cost:
        yield el("p", f"cost: {fix.cost}")
    if pictures is not None:
        place = pictures.placement
        before, after = ("", "") if place is None else (f": {place.words_before}", f": {place.words_after}")
        pair = (("before", before, pictures.before), ("after", after, pictures.after))
        sides = [_side(png, when, words, pictures.frame, fix.title) for when, words, png in pair]
        yield el("div", sides, class_="pair")
        yield from [] if place is None else [el("p", f"Each picture has its own {place.what}.", class_="quiet")]
    changes, more = previewed(step)
    if changes:
        heads = [el("th", head, scope="col") for head in ("first values", "before", "after")]
        rows = [
            el(
                "tr",
                el("th", change.label, scope="row"),
                el("td", change.before or "none"),
                el("td", change.after or "removed"),
            )
            for change in changes
        ]
        table = el("table", el("thead", el("tr", heads)), el("tbody", rows))
        yield el("div", table, class_="wide", tabindex="0", role="group", aria_label=f"{fix.title}: before and after")
        if more:
            yield el("p", more, class_="quiet")


def _side(png: bytes | None, when: str, words: str, frame: str, title: str) -> Element:
    """Make one half of a comparison: the picture before or after the fix, or a note that there is none."""
    if png is None:
        return el("p", f"frame {frame} {when}: nothing can be drawn", class_="quiet")
    return picture(png, f"frame {frame} {when}: {title}", f"frame {frame}, {when}{words}", size=(WIDTH, HEIGHT))


def _delivery(delivery: Delivery) -> Iterator[Element]:
    yield el("h3", "Before and after")
    heads = [el("th", head, scope="col") for head in ("findings", "before", "after")]
    rows = [
        el(
            "tr",
            el("th", f"{severity.word}s", scope="row"),
            el("td", f"{delivery.before.count(severity):,}"),
            el("td", f"{delivery.after.count(severity):,}"),
        )
        for severity in reversed(Severity)
    ]
    yield el("table", el("thead", el("tr", heads)), el("tbody", rows))
    yield terms(
        [
            ("written to", str(Name.from_path(delivery.out))),
            ("verified", proof_words(delivery.proof)),
            ("new findings", "; ".join(finding.message for _, finding in delivery.proof.new)),
            ("the delivery", verdict_text(delivery.after)),
            ("hand-off note", HANDOFF_NAME),
        ]
    )
