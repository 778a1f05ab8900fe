"""Judge caption versions by the delivery rules: each version must fit, and be readable in its frames."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from inspector.arrays import Flags
from inspector.checks.base.breach import Breach, Judge
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import MeshqcError
from inspector.sequence.discovery.settings import frame_text

if TYPE_CHECKING:  # few delivery rules are about captions, and the modules that lay them out are slow to import
    from inspector.lettering.caption_reading import CaptionReading
    from inspector.lettering.caption_versions import CaptionCase


def _cases(context: CheckContext) -> tuple[CaptionCase, ...] | str:
    """Lay out each caption version in the picture that the delivery rules define, or return why that is impossible."""
    from inspector.lettering.caption_file import FILE_NAME, find_captions, read_captions
    from inspector.lettering.caption_versions import caption_cases
    from inspector.lettering.sequence_fit import FitRequest, fit_sequence
    from inspector.lettering.viewpoint import view_under

    series, scope = context.series, context.resolver.scope
    if series.reference_index is None:
        return "no frame can be read"
    try:
        file = find_captions((series.sequence.folder, *scope.roots[:1]), scope)
        if file is None:
            return f"there is no {FILE_NAME} beside the frames"
        versions = read_captions(file, scope)
        fit = fit_sequence(series, FitRequest(view_under(context.settings.rules)))
        return caption_cases(fit, versions, context.materials(series.reference_index), scope)
    except MeshqcError as error:
        return str(error)


def _judge(
    words: Callable[[CaptionReading, object], tuple[Flags, str]],
) -> Judge:
    """Make a function that judges all caption versions by one requirement.

    `words` returns whether each frame fails to meet the requirement, (n,), and the problem in words.
    """

    def judge(context: CheckContext, wanted: object) -> Iterator[Breach]:
        from inspector.lettering.viewpoint import view_under

        cases = context.once(_cases)
        everything = list(range(len(context.series.facts)))
        if isinstance(cases, str):
            yield Breach(cases, everything, 0.0)
            return
        for case in cases:
            if case.reading is None:
                yield Breach(f"caption version {case.version.name} does not fit: {case.refusal}", everything, 0.0)
                continue
            if not case.reading.wanted.any():
                first, last = map(frame_text, case.reading.unreadable)
                unread = f"frames {first}-{last}, none of which could be read"
                if first == last:
                    unread = f"frame {first}, which could not be read"
                yield Breach(f"caption version {case.version.name} is for {unread}", everything, 0.0)
                continue
            wrong, said = words(case.reading, wanted)
            numbers = {number for number, bad in zip(case.reading.seen.frames, wrong.tolist(), strict=True) if bad}
            if numbers:
                view = view_under(context.settings.rules)
                message = (
                    f"in a picture of {view.width} x {view.height} pixels, caption version {case.version.name} {said}"
                )
                yield Breach(message, _indices(context, numbers), len(numbers))

    return judge


def _indices(context: CheckContext, numbers: set[Fraction]) -> list[int]:
    return [index for index, facts in enumerate(context.series.facts) if facts.number in numbers]


def _unreadable(reading: CaptionReading, _: object) -> tuple[Flags, str]:
    obstacles = reading.obstacles()
    wrong = np.array([one is not None for one in obstacles], bool) & reading.wanted
    causes = [one for one, bad in zip(obstacles, wrong.tolist(), strict=True) if bad and one is not None]
    worst = max(dict.fromkeys(causes), key=causes.count).value if causes else ""
    return wrong, f"is unreadable ({worst})"


def _low(reading: CaptionReading, least: object) -> tuple[Flags, str]:
    assert isinstance(least, int)
    unseen = reading.wanted & np.isnan(reading.seen.height)
    height = np.where(reading.wanted & ~unseen, reading.seen.height, np.inf)
    low = f"has capitals {height.min():.1f} pixels high"
    words = low if (height < least).any() else "is not visible"
    if unseen.any() and words == low:
        words = f"{low} on some frames and is not visible on others"
    return unseen | (height < least), f"{words}; capitals at least {count_of(least, 'pixel')} high are required"


def _faint(reading: CaptionReading, least: object) -> tuple[Flags, str]:
    assert isinstance(least, float)
    ratio = np.where(reading.wanted & np.isfinite(reading.contrast), reading.contrast, np.inf)
    return (
        ratio < least,
        f"has a contrast of {ratio.min():.2f}:1 against its background; at least {least:g}:1 is required",
    )


CAPTION_JUDGES: Mapping[str, Judge] = {
    "captions.readable": _judge(_unreadable),
    "captions.least_height": _judge(_low),
    "captions.least_contrast": _judge(_faint),
}
"""The functions that judge captions, by key of the delivery rules."""
