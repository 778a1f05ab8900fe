"""Convert the texture fit to a JSON document."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from inspector.lettering.captions import CaptionFit
from inspector.lettering.legibility import Legibility
from inspector.lettering.maps_fit import MapFit
from inspector.lettering.safe_lettering import SafeArea
from inspector.lettering.sequence_fit import SequenceFit
from inspector.lettering.texture_fit import SHARES, RegionFit
from inspector.names import Name
from inspector.report.document import Json, head
from inspector.report.fit_text import FitReport
from inspector.sequence.discovery.settings import frame_json
from inspector.surface.lettering_box import Rectangle

_MEASURES = {
    "visible": "seen",
    "facing": "facing",
    "hidden": "hidden",
    "foreshortening": "foreshortening",
    "height": "height",
    "rotation": "turned",
    "mirrored": "mirrored",
}
"""Keys of the document, and the attributes of `Legibility` that they contain."""


def fit_document(root: Name, reports: Sequence[FitReport], refused: Iterable[tuple[Name, str]]) -> Json:
    """Convert the texture fit of all sequences to a JSON document."""
    return {
        **head(),
        "folder": root.text,
        "sequences": [_sequence(report) for report in reports],
        "refused": [{"pattern": pattern.text, "reason": reason} for pattern, reason in refused],
    }


def _sequence(report: FitReport) -> Json:
    fit = report.fit
    sequence, texture, camera = fit.series.sequence, fit.texture, fit.shot.camera
    return {
        "name": sequence.name.text,
        "folder": sequence.relative.text,
        "pattern": sequence.pattern.text,
        "frames": [frame_json(number) for number in texture.frames],
        "left_out": [frame_json(number) for number in texture.left_out],
        "texel_density": fit.density,
        "camera": {
            "position": camera.position.tolist(),
            "target": camera.target.tolist(),
            "up": camera.axes[1].tolist(),
            "field_of_view": camera.field_of_view,
            "picture": [fit.shot.width, fit.shot.height],
        },
        "materials": [_material(report, material) for material in texture.materials],
        "lettering": None if report.lettering is None else _lettering(fit, *report.lettering),
    }


def _material(report: FitReport, material: RegionFit) -> Json:
    fit = report.fit
    areas = {area.region.island: area for area in fit.areas if area.region.material == material.material}
    return {
        **_region(material, fit.density),
        "material": None if material.material is None else material.material.text,
        "islands": [
            {"island": island, **_region(area.region, fit.density), "lettering_box": _lettering_box(area)}
            for island, area in sorted(areas.items(), key=lambda item: item[0] or 0)
        ],
        "maps": [_map(one) for one in report.maps if one.map.map.material == material.material],
    }


def _region(region: RegionFit, density: float) -> Json:
    """Convert a region to values for JSON. `aspects` and `texel_density` have a row per frame and a column per
    percentile."""
    size = region.pixels(density)
    use, reading = region.use, region.reading
    return {
        "faces": region.faces,
        "aspect": region.wanted_aspect,
        "size": list(size),
        "shares": list(SHARES),
        "aspects": _rows(region.aspects),
        "texel_density": _rows(region.density(*size)),
        "area": _rows(region.area),
        "uv_box": None if use is None else list(use.box),
        "uv_coverage": None if use is None else use.used,
        "uv_overlap": None if use is None else use.overlap,
        "text_direction": {
            "words": reading.words,
            "rotation": reading.turned,
            "mirrored": reading.mirrored,
            "spread": reading.spread,
            "flat": reading.flat,
        },
        "side": None if region.side is None else region.side.tolist(),
    }


def _lettering_box(area: SafeArea) -> Json | None:
    return None if area.rectangle is None else {**_rectangle(area.rectangle), "stretch": area.bound}


def _rectangle(rectangle: Rectangle) -> Json:
    return {name: getattr(rectangle, name) for name in ("left", "bottom", "right", "top")}


def _map(one: MapFit) -> Json:
    return {
        "name": one.map.map.name.text,
        "statement": one.map.map.statement.text,
        "size": None if one.size is None else list(one.size),
        "reason": one.unknown,
        "squeeze": one.squeeze,
        "texel_density": one.density,
        "verdicts": list(one.verdicts),
    }


def _lettering(fit: SequenceFit, seen: Legibility, captions: Sequence[CaptionFit]) -> Json:
    return {
        "lettering_box": _rectangle(seen.rectangle),
        "island": None if fit.region is None else fit.region.island,
        "frames": [frame_json(number) for number in seen.frames],
        **{key: _rows(getattr(seen, name)) for key, name in _MEASURES.items()},
        "obstacle": [None if one is None else one.name.lower() for one in seen.obstacles()],
        "readable": _ranges(seen.ranges()),
        "captions": [
            {
                "text": caption.text,
                "share": caption.share,
                "heights": None if caption.heights is None else list(caption.heights),
                "readable": _ranges(caption.ranges),
            }
            for caption in captions
        ],
    }


def _ranges(ranges: Iterable[tuple[Fraction, Fraction]]) -> list[list[int | float]]:
    return [[frame_json(number) for number in pair] for pair in ranges]


def _rows(values: npt.NDArray[np.float64]) -> list[object]:
    """Convert an array to a nested list, with None in place of NaN and infinity."""
    return [_rows(value) if isinstance(value, np.ndarray) else _finite(value) for value in values]


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
