"""Convert caption versions and their readability to a JSON document."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from inspector.lettering.caption_versions import CaptionCase
from inspector.lettering.sequence_fit import SequenceFit, display
from inspector.names import Name
from inspector.report.captions_text import letters, reads, verdict_words
from inspector.report.document import Json, head
from inspector.sequence.discovery.settings import frame_json


def captions_document(
    root: Name, fit: SequenceFit, file: Name | None, cases: Sequence[CaptionCase], written: Sequence[str] = ()
) -> Json:
    """Convert the caption versions of one sequence to a JSON document."""
    sequence = fit.series.sequence
    return {
        **head(),
        "folder": root.text,
        "pattern": sequence.pattern.text,
        "captions": None if file is None else file.text,
        "versions": [_case(case) for case in cases],
        "written": list(written),
    }


def _case(case: CaptionCase) -> Json:
    version, reading = case.version, case.reading
    return {
        "name": version.name,
        "texts": list(version.texts),
        "fits": reading is not None,
        "refusal": case.refusal,
        "material": None if case.fit is None else display(case.fit.material.material),
        "island": None if case.fit is None or case.fit.region is None else case.fit.region.island,
        "box": None if case.box is None else list(case.box),
        "base": None if case.base is None or case.base.name is None else case.base.name.text,
        "base_size": None if case.base is None else list(case.base.size),
        "lost": [] if case.base is None else list(case.base.lost),
        "size": None if case.size is None else list(case.size),
        "readable": not case.unreadable,
        "verdict": verdict_words(case),
        "frames": None
        if reading is None
        else [
            {
                "frame": frame_json(number),
                "wanted": bool(wanted),
                "mark": mark,
                "reads": reads(reading, at),
                "capital_height": _number(reading.seen.height[at]),
                "seen": _number(reading.seen.seen[at]),
                "hidden": _number(reading.seen.hidden[at]),
                "turned": _number(reading.seen.turned[at]),
                "mirrored": _number(reading.seen.mirrored[at]),
                "contrast": _number(reading.contrast[at]),
                "contrast_needed": _number(reading.needed[at]),
            }
            for at, (number, wanted, mark) in enumerate(
                zip(reading.seen.frames, reading.wanted.tolist(), letters(reading), strict=True)
            )
        ],
    }


def _number(value: float) -> float | None:
    return round(float(value), 4) if np.isfinite(value) else None
