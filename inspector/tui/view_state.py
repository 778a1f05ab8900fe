"""How a sequence is viewed: its cameras and the settings of its views, which are kept between runs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from inspector.arrays import Floats
from inspector.names import Name
from inspector.picture.camera import Camera
from inspector.picture.uv_map import Window
from inspector.tui.pictures.render_modes import Under

ROOM = 1.06
"""Ratio of the size of a fitted window to the size of the map."""

HEIGHTS = (1e-6, 1e6)
"""Minimum and maximum height of a window, in UV units. In a smaller or larger window, nothing would be visible."""

_LARGEST = 1e100  # limit of the numbers in the file; its cube still fits in a float64


@dataclass(frozen=True, slots=True)
class Viewport:
    """The visible part of the UV plane.

    Attributes:
        u: First UV coordinate of the centre.
        v: Second UV coordinate of the centre.
        height: Height in UV units.
    """

    u: float = 0.5
    v: float = 0.5
    height: float = ROOM

    def window(self, aspect: float) -> Window:
        """Return the visible part as a window with the aspect ratio of a picture, width over height."""
        half, wide = self.height / 2.0, self.height * aspect / 2.0
        return Window(self.u - wide, self.v - half, self.u + wide, self.v + half)


@dataclass
class PictureView:
    """The settings of the viewer, or of the comparison with another frame.

    Attributes:
        camera: The camera; None until the first picture is drawn.
        parallel: Whether the projection is parallel.
        behind: Whether the reference frame is drawn behind the frame.
        marks: Whether the faces and vertices of the finding are marked.
        fitted: Whether the camera was fitted to a frame and has not been moved since.
        rate: Playback rate in frames per second; None for the stated rate, or 24 if none is stated.
        cells: Name of the chosen kind of cells; empty for the most suitable kind.
    """

    camera: Camera | None = None
    parallel: bool = False
    behind: bool = False
    marks: bool = True
    fitted: bool = False
    rate: float | None = None
    cells: str = ""


@dataclass
class MapView:
    """The settings of the UV map.

    Attributes:
        place: The visible part of the UV plane; None until the first picture is drawn.
        under: The background of the map.
        compare: Whether the reference frame's map is also drawn.
        material: Material whose faces are drawn; None for all materials.
        cells: Name of the chosen kind of cells; empty for the most suitable kind.
    """

    place: Viewport | None = None
    under: Under = Under.NOTHING
    compare: bool = False
    material: Name | None = None
    cells: str = ""


@dataclass
class Cameras:
    """How the pictures of one sequence are viewed; the screens change these settings.

    Attributes:
        viewer: The settings of the viewer.
        uv_map: The settings of the UV map.
    """

    viewer: PictureView = field(default_factory=PictureView)
    uv_map: MapView = field(default_factory=MapView)


def cameras_to_json(cameras: Cameras) -> dict[str, object]:
    """Convert the view settings of a sequence to JSON values."""
    seen, uv_map = cameras.viewer, cameras.uv_map
    place, material = uv_map.place, uv_map.material
    viewer = {
        "camera": None if seen.camera is None else _camera_to_json(seen.camera),
        "parallel": seen.parallel,
        "behind": seen.behind,
        "marks": seen.marks,
        "fitted": seen.fitted,
        "rate": seen.rate,
        "cells": seen.cells,
    }
    flat = {
        "place": None if place is None else [place.u, place.v, place.height],
        "under": uv_map.under.value,
        "compare": uv_map.compare,
        "material": None if material is None else material.text,
        "cells": uv_map.cells,
    }
    return {"viewer": viewer, "uv_map": flat}


def cameras_from_json(entry: Any) -> Cameras:
    """Convert the JSON values from `cameras_to_json` to the view settings of a sequence.

    Raises:
        ValueError, TypeError, KeyError, AttributeError, OverflowError: The values are not valid settings.
    """
    seen, flat = entry["viewer"], entry["uv_map"]
    camera, rate, place, material = seen["camera"], seen["rate"], flat["place"], flat["material"]
    viewer = PictureView(
        None if camera is None else _camera_from_json(camera),
        _truth(seen["parallel"]),
        _truth(seen["behind"]),
        _truth(seen["marks"]),
        _truth(seen["fitted"]),
        None if rate is None else _positive(rate),
        _word(seen["cells"]),
    )
    uv_map = MapView(
        None if place is None else _viewport_from_json(place),
        Under(flat["under"]),
        _truth(flat["compare"]),
        None if material is None else Name(material.encode("utf-8", "surrogateescape")),
        _word(flat["cells"]),
    )
    return Cameras(viewer, uv_map)


def _camera_to_json(camera: Camera) -> dict[str, object]:
    ways = {"position": camera.position, "target": camera.target, "up": camera.up}
    return {
        **{name: way.tolist() for name, way in ways.items()},
        "near": camera.near,
        "parallel_height": camera.parallel_height,
    }


def _camera_from_json(entry: Mapping[str, Any]) -> Camera:
    high = entry["parallel_height"]
    camera = Camera(
        _point(entry["position"]),
        _point(entry["target"]),
        _point(entry["up"]),
        near=_positive(entry["near"]),
        parallel_height=None if high is None else _positive(high),
    )
    with np.errstate(all="ignore"):
        if not (camera.distance > 0.0 and np.isfinite(camera.axes).all()):
            raise ValueError("the camera has no direction")
    return camera


def _viewport_from_json(entry: Any) -> Viewport:
    u, v, height = map(_number, entry)
    if not (max(abs(u), abs(v)) <= HEIGHTS[1] and HEIGHTS[0] <= height <= HEIGHTS[1]):
        raise ValueError("the viewport is out of bounds")
    return Viewport(u, v, height)


def _point(entry: Any) -> Floats:
    x, y, z = map(_number, entry)
    return np.array([x, y, z])


def _positive(entry: object) -> float:
    if (number := _number(entry)) <= 0.0:
        raise ValueError("not above zero")
    return number


def _number(entry: object) -> float:
    """Check that a value is a finite number that is not too large, and convert it to float.

    JSON has no NaN or infinity, but Python's reader accepts them.

    Raises:
        TypeError: The value is not a number.
        ValueError: The number is not finite, or is too large.
    """
    if isinstance(entry, bool) or not isinstance(entry, int | float):
        raise TypeError("not a number")
    if not (math.isfinite(entry) and abs(entry) < _LARGEST):
        raise ValueError("out of bounds")
    return float(entry)


def _truth(entry: object) -> bool:
    if not isinstance(entry, bool):
        raise TypeError("neither true nor false")
    return entry


def _word(entry: object) -> str:
    if not isinstance(entry, str):
        raise TypeError("not a word")
    return entry
