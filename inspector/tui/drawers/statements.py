"""The prompt in which the user states the frame range and the object's size, which the files alone don't show."""

from __future__ import annotations

from dataclasses import replace

from inspector.names import amount
from inspector.report.command_options import stated_range, stated_size
from inspector.report.frame_rows import SequenceView
from inspector.rules.values import frame_range, positive
from inspector.sequence.discovery.settings import Settings, frame_text
from inspector.tui.drawers.prompt import Field, Values

_FRAMES, _SIZE = "frames", "size"


def statement_fields(settings: Settings, view: SequenceView | None) -> list[Field]:
    """Return the fields for the frame range and the object's size, with the current values.

    The description of each field includes the value that was found in the files, if any.
    """
    files = size = ""
    if view is not None and view.sequence.files:
        first, last = (frame_text(view.sequence.files[at].number) for at in (0, -1))
        files = f" (the files are numbered {first}-{last})"
    if view is not None and view.series is not None and view.series.reference_size > 0.0:
        size = f" (measured: {amount(view.series.reference_size, 'unit')})"
    ruled = Settings().under(settings.rules)
    frames_blank, size_blank = _if_blank(stated_range(ruled)), _if_blank(stated_size(ruled))
    frames_meaning = f"first and last frame that should exist, such as 1-240{files}; {frames_blank}"
    size_meaning = f"longest side of the object in scene units, such as 1.8{size}; {size_blank}"
    return [
        Field(_FRAMES, frames_meaning, stated_range(settings)),
        Field(_SIZE, size_meaning, stated_size(settings)),
    ]


def _if_blank(ruled: str) -> str:
    return f"if blank: {ruled}, from the delivery rules" if ruled else "may be left blank"


def statements_fault(values: Values) -> str | None:
    """Return the problem with the typed values; None if there is none."""
    for name, read in ((_FRAMES, frame_range), (_SIZE, positive)):
        try:
            if values[name]:
                read(values[name])
        except ValueError as error:
            return f"{name}: {error}"
    return None


def with_typed(settings: Settings, values: Values) -> Settings:
    """Return the settings with the typed range and size. A blank value is replaced with the value in the delivery
    rules, if they have one.

    Args:
        settings: The current settings. If the user doesn't change the text of a value, the value keeps all its digits.
        values: The typed values, in which `statements_fault` has found no problem.
    """
    frames, size = values[_FRAMES], values[_SIZE]
    if frames != stated_range(settings):
        settings = replace(settings, expected=frame_range(frames) if frames else None)
    if size != stated_size(settings):
        settings = replace(settings, size=positive(size) if size else None)
    return settings.under(settings.rules)
