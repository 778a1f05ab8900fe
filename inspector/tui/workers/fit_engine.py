"""Work on textures in a thread: find out which texture and lettering fit a sequence, and write the template."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from textual.message import Message

from inspector.delivery.output_file import write_new
from inspector.errors import Cancelled, MeshqcError, unexpected
from inspector.lettering.maps_fit import judge_maps
from inspector.lettering.sequence_fit import FitRequest, SequenceFit, fit_sequence, read_lettering
from inspector.lettering.template_fit import template_of
from inspector.names import safe
from inspector.picture.image_files import read_picture
from inspector.picture.png import png_bytes
from inspector.picture.svg import template_svg
from inspector.picture.template import draw_template
from inspector.report.fit_text import FitReport
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.run.scan import Cancel
from inspector.sequence.series import Series
from inspector.tui.pictures.scene import VIEWER_TEXTURE
from inspector.tui.pictures.sheet_scene import Sheet
from inspector.tui.workers.engine import Pace, Post


class Fitting(Message):
    """Progress of the work.

    Attributes:
        doing: The current stage.
        done: Number of frames done.
        of: Total number of frames.
    """

    def __init__(self, doing: str, done: int, of: int) -> None:
        super().__init__()
        self.doing = doing
        self.done = done
        self.of = of


class Fitted(Message):
    """The fit of a sequence.

    Args:
        report: The fit.
        sheet: The sheet to draw; None if the texture repeats or is too large.
    """

    def __init__(self, report: FitReport, sheet: Sheet | None) -> None:
        super().__init__()
        self.report = report
        self.sheet = sheet


class NotFitted(Message):
    """Why there is no fit."""

    def __init__(self, reason: str) -> None:
        super().__init__()
        self.reason = reason


class TemplateDone(Message):
    """The result of writing the template, in words."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.words = words


def fit(series: Series, wanted: FitRequest, resolver: MaterialResolver, post: Post, cancelled: Cancel) -> None:
    """Read the frames of a sequence again, and find out which texture and lettering fit the sequence.

    Post the message `Fitting` repeatedly, then `Fitted` or `NotFitted`.
    """
    pace = Pace()

    def stage(doing: str, done: int, total: int) -> None:
        if pace.due():
            post(Fitting(doing, done, total))

    try:
        fitted = fit_sequence(series, wanted, stage, cancelled)
        lettering = read_lettering(fitted, stage, cancelled)
        maps = judge_maps(resolver.of_frame(series.reference_facts), fitted.texture, fitted.density, resolver.scope)
        report = FitReport(fitted, lettering, maps)
        post(Fitted(report, _sheet(report, resolver)))
    except Cancelled:
        post(NotFitted("stopped"))
    except MeshqcError as error:
        post(NotFitted(str(error)))
    except Exception as error:  # the session must go on
        post(NotFitted(unexpected(error)))


def _sheet(report: FitReport, resolver: MaterialResolver) -> Sheet | None:
    try:
        template = template_of(report.fit)
    except MeshqcError:
        return None
    found, texture = report.known_map, None
    if found is not None and found.map.target.path is not None:
        with suppress(MeshqcError):  # the checks of textures report what is wrong with it
            texture = read_picture(found.map.target.path, VIEWER_TEXTURE, resolver.scope.open)
    return Sheet(template, texture, report.texture_size)


def write_template(fitted: SequenceFit, path: Path, post: Post) -> None:
    """Draw the template of the fit's material, write it to a new file, and post the message `TemplateDone`.

    The file must not exist yet. It is written as an SVG if its name ends in .svg, otherwise as a PNG.
    """
    try:
        template = template_of(fitted)
        vectors = path.suffix.lower() == ".svg"
        write_new(path, template_svg(template).encode() if vectors else png_bytes(draw_template(template)))
        post(TemplateDone(f"written: {safe(path.name)}, {template.title()}"))
    except (MeshqcError, OSError) as error:
        post(TemplateDone(f"not written: {error}"))
    except Exception as error:
        post(TemplateDone(f"not written: {unexpected(error)}"))
