"""Gather the pictures, texture fits and fixes for a page. Frames are read again."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.finding import Severity
from inspector.delivery.choices import all_choices
from inspector.delivery.deliver import Delivery
from inspector.delivery.plan import Plan
from inspector.delivery.planning import make_plan
from inspector.errors import MeshqcError, unexpected
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.lettering.maps_fit import judge_maps
from inspector.lettering.sequence_fit import FitRequest, evenly, fit_sequence, read_lettering, thinned
from inspector.lettering.still_pictures import draw_frames
from inspector.lettering.viewpoint import View
from inspector.picture.png import png_bytes
from inspector.report.fit_text import FitReport
from inspector.report.frame_rows import SequenceView
from inspector.report.html.pictures import (
    HEIGHT,
    WIDTH,
    FixPictures,
    Strip,
    appearance_of,
    caption_strips,
    fix_pictures,
    thumbnails,
)
from inspector.report.html.receipt import existing_receipt
from inspector.report.text import sequence_title, worst_first
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.series import Series

PAGE_PICTURES = 120
"""Maximum number of pictures of frames on a page. This many pictures take 2 to 3 MB."""

_PAGE_SHEET = 12
"""Maximum number of pictures per sequence: four rows of three pictures."""

_PAGE_FRAMES = 240
"""Maximum number of frames, over all sequences, in which texture and lettering are measured. If there are more frames,
evenly spaced frames are chosen, but always at least three per sequence."""

PAGE_FACES = 1 << 21
"""Maximum total number of faces in the frames in which texture and lettering are measured. Two million take 15 s."""

Stage = Callable[[Series, str, int, int], None]
"""Progress callback, called with the sequence, the current stage, the amount of work done, and the total amount."""


@dataclass(frozen=True, eq=False)
class Shown:
    """One sequence on the page.

    Attributes:
        key: Prefix of the sequence's anchors.
        inspection: The inspection of the sequence.
        pictures: Pictures of frames, as PNG data, keyed by the frames' indices in the facts.
        appearance: Description of the texture that the pictures show.
        fit: The texture fit; None if it couldn't be measured.
        thumbnails: Pictures of texture maps, as PNG data by index in `fit.maps`.
        strips: The caption versions, with close-ups.
        why: The reasons why contents are missing, by kind of content: "fit", "pictures" or "captions".
        corrected: Whether the sequence is in a delivery.
    """

    key: str
    inspection: Inspection
    pictures: Mapping[int, bytes] = field(default_factory=dict)
    appearance: str = ""
    fit: FitReport | None = None
    thumbnails: Mapping[int, bytes] = field(default_factory=dict)
    strips: tuple[Strip, ...] = ()
    why: Mapping[str, str] = field(default_factory=dict)
    corrected: bool = False

    @property
    def title(self) -> str:
        """A title that no other sequence on the page has."""
        title = sequence_title(self.inspection.sequence)
        return f"{title}, corrected" if self.corrected else title

    @property
    def side(self) -> Floats | None:
        """Direction from the object to the viewer, (3,), in the close-ups of the first caption version that has a
        texture fit. If no caption version has a texture fit, the direction in the sequence's own texture fit is used.
        None if there is no texture fit at all."""
        fits = [strip.case.fit for strip in self.strips if strip.case.fit is not None]
        if self.fit is not None:
            fits.append(self.fit.fit)
        return -fits[0].shot.camera.axes[2] if fits else None

    @cached_property
    def view(self) -> SequenceView:
        return SequenceView(self.inspection.sequence, self.inspection.series.facts, self.inspection)


@dataclass(frozen=True, eq=False)
class ReportPage:
    """The contents of a page.

    Attributes:
        result: The inspection.
        sequences: The inspected sequences, the worst first.
        plan: The planned fixes, or the applied fixes if there is a delivery; None if no plan could be made.
        no_plan: The reason why no plan could be made; "" if there is a plan.
        delivery: The delivery that was written; None if there is none.
        after: The corrected sequences; empty if there is no delivery.
        changes: Pictures of fixes, by key of the sequence and id of the fix.
        receipt: The receipt of the delivery or, without a delivery, the receipt in the folder; None if there is no
            receipt.
        elsewhere: The folder that the page is about, if its frames were unpacked into a different folder; otherwise
            None.
    """

    result: FolderInspection
    sequences: tuple[Shown, ...]
    plan: Plan | None = None
    no_plan: str = ""
    delivery: Delivery | None = None
    after: tuple[Shown, ...] = ()
    changes: Mapping[tuple[str, str], FixPictures] = field(default_factory=dict)
    receipt: Mapping[str, object] | None = None
    elsewhere: Path | None = None

    @property
    def folder(self) -> Path:
        """The folder that the page is about."""
        return self.elsewhere or self.result.root


def gather(
    result: FolderInspection,
    stage: Stage,
    plan: Plan | None = None,
    delivery: Delivery | None = None,
    captions: tuple[Path, Scope] | None = None,
    elsewhere: Path | None = None,
) -> ReportPage:
    """Gather the contents of a page.

    Args:
        result: The inspection.
        stage: The progress callback.
        plan: The planned or applied fixes; None to plan every fix that an error or a warning names.
        delivery: The delivery that was written; None if there is none.
        captions: A captions file, and the folders that may be read for it; None to search for captions.toml beside the
            frames and in the inspected folder.
        elsewhere: The folder that the page is about, if its frames were unpacked into a different folder; otherwise
            None.
    """
    sequences = _shown(result, "s", stage, captions)
    no_plan = ""
    if plan is None:
        try:
            plan = make_plan(result, all_choices(result))
        except MeshqcError as reason:
            no_plan = str(reason)
    changes = {} if plan is None else _changes(plan, sequences, stage)
    if delivery is None:
        receipt = existing_receipt(elsewhere or result.root)
        return ReportPage(result, sequences, plan, no_plan, changes=changes, receipt=receipt, elsewhere=elsewhere)
    after = tuple(replace(one, corrected=True) for one in _shown(delivery.after, "c", stage))
    return ReportPage(result, sequences, plan, no_plan, delivery, after, changes, delivery.receipt)


def _changes(plan: Plan, sequences: tuple[Shown, ...], stage: Stage) -> dict[tuple[str, str], FixPictures]:
    """Draw the effects of fixes on sequences that have pictures. Return the new pictures by key of the sequence and id
    of the fix."""
    shown = {id(one.inspection): one for one in sequences if one.pictures}
    found: dict[tuple[str, str], FixPictures] = {}
    for part in plan.sequences:
        one = shown.get(id(part.inspection))
        if one is None:
            continue
        fit = None if one.fit is None else one.fit.fit
        side = np.array([0.0, 0.0, 1.0]) if one.side is None else one.side
        with suppress(MeshqcError):  # a source file has changed; delivering the plan reports this
            for step, pictures in fix_pictures(part, side, appearance_of(part.inspection, fit)[0]):
                found[part.key, step.fix] = pictures
                stage(part.inspection.series, "drawing fixes", len(found), len(plan.steps))
    return found


def _shown(
    result: FolderInspection, start: str, stage: Stage, captions: tuple[Path, Scope] | None = None
) -> tuple[Shown, ...]:
    """Gather the sequences, the worst first. Only the first PAGE_PICTURES sequences have pictures."""
    ranked = worst_first(result)
    each = max(1, min(_PAGE_SHEET, PAGE_PICTURES // max(1, len(ranked))))
    drawn = PAGE_PICTURES // each
    share = 1.0 / max(1, len(ranked))
    return tuple(
        _one(Shown(f"{start}{place + 1}", one), each if place < drawn else 0, share, stage, captions)
        for place, one in enumerate(ranked)
    )


def _one(shown: Shown, pictures: int, share: float, stage: Stage, captions: tuple[Path, Scope] | None) -> Shown:
    series = shown.inspection.series
    progress = partial(stage, series)
    fit, why = None, {}
    try:
        fit = _fit(shown.inspection, share, progress)
    except MeshqcError as reason:
        why["fit"] = str(reason)
    except Exception as error:  # the rest of the page is still useful
        why["fit"] = unexpected(error)
    if not pictures:
        why["pictures"] = "the folder has too many sequences for a page with pictures"
    strips: tuple[Strip, ...] = ()
    if fit is not None and pictures:
        try:
            strips = caption_strips(shown.inspection, fit.fit, captions, progress)
        except MeshqcError as reason:
            why["captions"] = str(reason)
        except Exception as error:
            why["captions"] = unexpected(error)
    shown = replace(shown, fit=fit, strips=strips)
    drawn: Mapping[int, bytes] = {}
    appearance = ""
    try:
        drawn, appearance = _draw(shown, pictures, progress)
    except MeshqcError as reason:
        why["pictures"] = str(reason)
    except Exception as error:
        why["pictures"] = unexpected(error)
    small = {} if fit is None else thumbnails(fit.maps, shown.inspection.context.resolver.scope)
    return replace(shown, pictures=drawn, appearance=appearance, thumbnails=small, why=why)


def _fit(one: Inspection, share: float, progress: Callable[[str, int, int], None]) -> FitReport:
    """Measure the texture fit of a sequence. `share` is the sequence's share of the frames and faces that may be
    measured for a page.

    Raises:
        MeshqcError: No texture can be fitted.
    """
    most = min(_PAGE_FRAMES, PAGE_FACES // max(1, one.series.reference_facts.faces))
    series = thinned(one.series, max(3, int(share * most)))
    fit = fit_sequence(series, FitRequest(), progress)
    lettering = read_lettering(fit, progress)
    resolver = one.context.resolver
    maps = judge_maps(resolver.of_frame(series.reference_facts), fit.texture, fit.density, resolver.scope)
    return FitReport(fit, lettering, maps)


def _draw(shown: Shown, most: int, progress: Callable[[str, int, int], None]) -> tuple[Mapping[int, bytes], str]:
    """Draw frames of a sequence.

    Returns:
        Two values: the pictures as PNG data, keyed by the frames' indices in the facts; and a description of the
        texture that the pictures show.
    """
    series = shown.inspection.series
    indices = _chosen(shown, most)
    if not indices:
        return {}, ""
    view = View(width=WIDTH, height=HEIGHT)
    shot = view.shot(series, shown.side)
    appearance, words = appearance_of(shown.inspection, None if shown.fit is None else shown.fit.fit)
    drawn = draw_frames(series, indices, shot, [appearance], partial(progress, "drawing"))
    return {index: png_bytes(pictures[0]) for index, pictures in drawn}, words


def _chosen(shown: Shown, most: int) -> list[int]:
    """Choose the frames to draw. Up to half of them are frames at which an error or a warning begins. The other frames
    are evenly spread."""
    series = shown.inspection.series
    there = [index for index in np.flatnonzero(series.usable).tolist() if series.facts[index].box is not None]
    by_number = {series.facts[index].number: index for index in reversed(there)}
    serious = [finding for finding in shown.inspection.findings if finding.severity > Severity.NOTE]
    firsts = [by_number[number] for finding in serious for number in finding.frames[:1] if number in by_number]
    chosen = list(dict.fromkeys(firsts))[: most // 2]
    even = [there[place] for place in evenly(len(there), most - len(chosen))] if there else []
    return sorted({*chosen, *_filled(chosen, even, there, most)})


def _filled(chosen: Sequence[int], even: Sequence[int], there: Sequence[int], most: int) -> list[int]:
    """Return the frames that must be added to `chosen` to get `most` frames in total. They are taken from `even`
    first, and then from `there`. If `even` and `there` together contain too few frames, fewer are returned."""
    wanted = dict.fromkeys([*even, *there])
    return [index for index in wanted if index not in chosen][: most - len(chosen)]
