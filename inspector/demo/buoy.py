"""A mooring buoy that bobs and turns.

The buoy has a curved, closed body with a label, and a lantern that hides part of the label on some frames. The label
has its own material and texture. Units are metres, Y is up, and the label faces +Z.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.demo.quad_mesh import QuadMesh, vertex_normals

FRAMES = range(1, 25)
LABEL, BODY = "buoy_label", "buoy_body"
LABEL_MAP, BODY_MAP = "textures/buoy_label.png", "textures/buoy_body.png"

_COLUMNS = 24
"""Number of quads around the body. The label extends over `_LABEL` quads to each side of +Z."""
_LABEL = 4
_HEIGHT: Floats = np.array([-0.55, -0.42, -0.25, -0.1, 0.05, 0.2, 0.34, 0.42])
_RADIUS: Floats = np.array([0.3, 0.44, 0.5, 0.515, 0.515, 0.5, 0.42, 0.28])
"""Radius of each ring of the body, in metres, from the bottom up. The label is between rings 2 and 5, counted from 0.
"""
_BAND = slice(2, 6)
_DOME = 0.04

_LANTERN_HEIGHT: Floats = np.array([-0.16, -0.12, 0.1, 0.15])
_LANTERN_RADIUS: Floats = np.array([0.06, 0.1, 0.1, 0.05])
_LANTERN_COLUMNS = 8
_LANTERN_AT = 0.76
"""Distance between the axes of the lantern and the buoy, in metres."""
_LANTERN_SIDE = np.radians(33.0)
"""Angle by which the lantern is to the right of the label's middle, in radians."""
_BRACKET: Floats = np.array(
    [[0.0, 0.44], [0.0, 0.6], [0.2, 0.66], [0.6, 0.66], [_LANTERN_AT, 0.58], [_LANTERN_AT, 0.13]]
)
"""Points along the bracket, from the top of the body into the lantern: distance from the buoy's axis, and height, both
in metres."""
_BRACKET_HALF = 0.025

_SHEET: Floats = np.array([3.6, 2.4])
"""Width and height of the surface that the body's texture covers, in metres."""

_PERIOD = 41.0
_TURN = np.radians(30.0)
_ROCK = np.radians(4.0)
_BOB = 0.07


@dataclass(frozen=True, eq=False)
class _Part:
    """A part of the buoy. Indices start at 0.

    Attributes:
        positions: Positions of the vertices, (n, 3), in metres.
        uvs: UVs, (m, 2).
        v: Position index at each corner of the quads, (f, 4).
        vt: UV index at each corner of the quads, (f, 4).
    """

    positions: Floats
    uvs: Floats
    v: Indices
    vt: Indices


def _strip(columns: int, rows: int, closed: int | None = None) -> Indices:
    """Return the point indices of a grid of counter-clockwise quads, (columns * rows, 4). Points are numbered row by
    row.

    In a closed grid, each row has `closed` points, and the last quad of a row ends at the first point of the row.
    """
    across = columns + 1 if closed is None else closed
    row, column = (axis.ravel() for axis in np.meshgrid(np.arange(rows), np.arange(columns), indexing="ij"))
    low, following = row * across, (column + 1) % across
    return np.stack([low + column, low + following, low + across + following, low + across + column], axis=-1)


def _disc(sides: int) -> tuple[Floats, Indices]:
    """Divide a unit disc into quads: `sides` / 4 in each direction. `sides` is the number of points on the rim, a
    multiple of 4.

    Returns:
        The inner points, (k, 2); and the point indices of the quads, (f, 4). Points on the rim are numbered first,
        counter-clockwise from the lower left.
    """
    side = sides // 4
    number = np.full((side + 1, side + 1), sides, np.int64)
    around = np.arange(sides).reshape(4, side)
    number[0, :-1], number[:-1, -1], number[-1, :0:-1], number[:0:-1, 0] = around
    number[1:-1, 1:-1] += np.arange((side - 1) ** 2).reshape(side - 1, side - 1)
    y, x = (2.0 * axis[1:-1, 1:-1].ravel() / side - 1.0 for axis in np.indices(number.shape))
    inner = np.stack([x * np.sqrt(1.0 - y * y / 2.0), y * np.sqrt(1.0 - x * x / 2.0)], axis=-1)
    quads = [number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]]
    return inner, np.stack(quads, axis=-1).reshape(-1, 4)


def _cap(rim: Floats, flat: Floats, dome: float) -> tuple[Floats, Floats, Indices]:
    """Close a rim, (n, 3), in metres, with a cap whose middle is `dome` metres above it.

    Return the inner points in the scene, (k, 3); the flattened inner points, (k, 2); and the quads of `_disc`. `flat`
    is the flattened rim as seen from outside, counter-clockwise, (n, 2), in metres.
    """
    inner, quads = _disc(len(rim))
    ends = np.stack([flat[0] - flat.mean(axis=0), flat[len(flat) // 4] - flat.mean(axis=0)], axis=1)
    weights = inner @ np.linalg.inv([[-1.0, 1.0], [-1.0, -1.0]]).T * np.sqrt(2.0)
    plane = flat.mean(axis=0) + weights @ ends.T
    middle = rim.mean(axis=0)
    axes = np.stack([rim[0] - middle, rim[len(rim) // 4] - middle], axis=1)
    points = middle + weights @ axes.T
    points[:, 1] += dome * (1.0 - (inner**2).sum(axis=1))
    return points, plane, quads


def _turned(radius: Floats, height: Floats, columns: int, first: float) -> Floats:
    """Return the points of rings around the Y axis, ring by ring, (r * columns, 3), in metres.

    The first point of each ring has the azimuth `first`, in radians. The points run to the right, as seen from outside.
    """
    azimuth = first + 2.0 * np.pi * np.arange(columns) / columns
    x, z = radius[:, None] * np.sin(azimuth), radius[:, None] * np.cos(azimuth)
    return np.stack([x, np.broadcast_to(height[:, None], x.shape), z], axis=-1).reshape(-1, 3)


def _sheet(width: float, heights: Floats, columns: int, left: float, bottom: float) -> Floats:
    """Lay the points of a strip flat, row by row, ((rows + 1) * (columns + 1), 2), in metres.

    `heights` contains the height of each row of points, measured from the first row, (rows + 1,), in metres.
    """
    x, y = np.meshgrid(left + width * np.arange(columns + 1) / columns, bottom + heights)
    return np.stack([x, y], axis=-1).reshape(-1, 2)


def _tube(rings: Floats, columns: int, at: tuple[float, float], caps: tuple[Floats, Floats], domes: Floats) -> _Part:
    """Make a closed tube from rings.

    Args:
        rings: The points, ring by ring, (r * columns, 3), in metres, counter-clockwise as seen from the last ring.
        columns: Number of points on a ring.
        at: Lower left corner of the tube's side in the UV layout, in metres.
        caps: Centres of the tube's ends in the UV layout, in metres.
        domes: Height of the middle of each end above its rim, (2,), in metres.
    """
    table = rings.reshape(-1, columns, 3)
    rows = len(table) - 1
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(table, axis=0), axis=2).mean(axis=1))])
    around = np.linalg.norm(np.roll(table, -1, axis=1) - table, axis=2).sum(axis=1).mean()
    side_uvs = _sheet(float(around), length, columns, *at)
    positions, uvs = [rings], [side_uvs]
    v, vt = [_strip(columns, rows, closed=columns)], [_strip(columns, rows)]
    count, uv_count = len(rings), len(side_uvs)
    angle = 2.0 * np.pi * np.arange(columns) / columns - 0.75 * np.pi
    for end, place, dome in zip((0, rows), caps, domes, strict=True):
        order = np.arange(columns) if end else -np.arange(columns) % columns
        rim = table[end][order]
        radius = np.linalg.norm(rim - rim.mean(axis=0), axis=1).mean()
        flat = place + radius * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        inner, plane, quads = _cap(rim, flat, float(dome))
        numbers = np.concatenate([end * columns + order, count + np.arange(len(inner))])
        v.append(numbers[quads])
        vt.append(uv_count + quads)
        positions.append(inner)
        uvs += [flat, plane]
        count, uv_count = count + len(inner), uv_count + len(flat) + len(plane)
    return _Part(np.concatenate(positions), np.concatenate(uvs) / _SHEET, np.concatenate(v), np.concatenate(vt))


def _body() -> tuple[_Part, Indices]:
    """Return the body, and the indices of the label's faces, whose UVs refer to the label's own texture."""
    first = -_LABEL * 2.0 * np.pi / _COLUMNS
    rings = _turned(_RADIUS, _HEIGHT, _COLUMNS, first)
    caps = np.array([0.45, 1.95]), np.array([1.15, 1.95])
    tube = _tube(rings, _COLUMNS, (0.1, 0.1), caps, np.array([-_DOME, _DOME]))
    row, column = np.divmod(np.arange(_COLUMNS * (len(_HEIGHT) - 1)), _COLUMNS)
    label = np.flatnonzero((column < 2 * _LABEL) & (row >= _BAND.start) & (row < _BAND.stop - 1))
    heights = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(_HEIGHT[_BAND]), np.diff(_RADIUS[_BAND])))])
    own = _sheet(1.0, heights / heights[-1], 2 * _LABEL, 0.0, 0.0)
    vt = tube.vt.copy()
    vt[label] = len(tube.uvs) + _strip(2 * _LABEL, len(heights) - 1)
    return _Part(tube.positions, np.concatenate([tube.uvs, own]), tube.v, vt), label


def _lantern() -> _Part:
    place = _LANTERN_AT * np.array([np.sin(_LANTERN_SIDE), 0.0, np.cos(_LANTERN_SIDE)])
    rings = _turned(_LANTERN_RADIUS, _LANTERN_HEIGHT, _LANTERN_COLUMNS, 0.0) + place
    caps = np.array([2.7, 1.85]), np.array([2.95, 1.85])
    return _tube(rings, _LANTERN_COLUMNS, (1.6, 1.7), caps, np.array([-0.01, 0.02]))


def _bracket() -> _Part:
    """Make a square tube along `_BRACKET`. The cross-section at each bend bisects the angle."""
    steps = np.diff(_BRACKET, axis=0)
    along = steps / np.linalg.norm(steps, axis=1, keepdims=True)
    along = np.concatenate([along[:1], along[1:] + along[:-1], along[-1:]])
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    out = np.array([np.sin(_LANTERN_SIDE), 0.0, np.cos(_LANTERN_SIDE)])
    up, aside = np.array([0.0, 1.0, 0.0]), np.array([np.cos(_LANTERN_SIDE), 0.0, -np.sin(_LANTERN_SIDE)])
    middle = _BRACKET[:, :1] * out + _BRACKET[:, 1:] * up
    across = along[:, 1:] * out - along[:, :1] * up
    corners = [(-1, 1), (1, 1), (1, -1), (-1, -1)]
    rings = np.stack([middle + _BRACKET_HALF * (a * aside + b * across) for a, b in corners], axis=1)
    caps = np.array([2.7, 2.2]), np.array([2.95, 2.2])
    return _tube(rings.reshape(-1, 3), 4, (3.2, 0.3), caps, np.zeros(2))


def _joined() -> tuple[_Part, int]:
    """Return all parts joined into one, with the label's faces last, and the index of the label's first face."""
    body, label = _body()
    parts = [body, _lantern(), _bracket()]
    starts = np.cumsum([0, *(len(part.positions) for part in parts)])
    uv_starts = np.cumsum([0, *(len(part.uvs) for part in parts)])
    v = np.concatenate([part.v + start for part, start in zip(parts, starts, strict=False)])
    vt = np.concatenate([part.vt + start for part, start in zip(parts, uv_starts, strict=False)])
    order = np.concatenate([np.delete(np.arange(len(v)), label), label])
    positions, uvs = (np.concatenate([getattr(part, name) for part in parts]) for name in ("positions", "uvs"))
    return _Part(positions, uvs, v[order], vt[order]), len(v) - len(label)


_BUOY, _LABEL_START = _joined()


def _posed(frame: int) -> Floats:
    """Return the positions in a frame, (n, 3), in metres. The buoy turns from one side to the other, rocks and bobs."""
    phase = 2.0 * np.pi * (frame - FRAMES.start) / _PERIOD
    turn, rock = _TURN * np.cos(phase), _ROCK * np.sin(1.7 * phase + 0.4)
    about_y = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
    about_z = np.array([[np.cos(rock), -np.sin(rock), 0], [np.sin(rock), np.cos(rock), 0], [0, 0, 1]])
    posed: Floats = _BUOY.positions @ (about_z @ about_y).T + [0.0, _BOB * np.sin(1.3 * phase), 0.0]
    return posed


def bob(frame: int) -> QuadMesh:
    """Make the mesh of one frame."""
    positions = _posed(frame)
    return QuadMesh(
        title=f"mooring buoy, frame {frame} of {FRAMES.start}-{FRAMES[-1]}",
        object="buoy",
        group="body",
        library="buoy.mtl",
        material=BODY,
        positions=positions,
        uvs=_BUOY.uvs,
        normals=vertex_normals(positions, _BUOY.v),
        v=_BUOY.v,
        vt=_BUOY.vt,
        vn=_BUOY.v,
        others=((_LABEL_START, "label", LABEL),),
    )


CAPTIONS = """\
# Caption versions of the buoy's label: meshqc captions buoy
# The title appears in frames 1 to 8, before the lantern passes in front of it.

[defaults]
material = "buoy_label"
base = "textures/buoy_label.png"
box = [32, 28, 448, 172] # left, top, right, bottom in pixels of the base map: inside the label's border
weight = 900
colour = "#10233f"
frames = "1-8"

[[version]]
name = "en"
texts = ["HARBOUR", "AQUARIUM"]

[[version]]
name = "de"
texts = ["HAFEN-", "AQUARIUM"]

[[version]]
name = "el"
texts = ["ΕΝΥΔΡΕΙΟ", "ΛΙΜΑΝΙΟΥ"]
colour = "#c9c3a5" # too pale for this label: meshqc captions --fail-on unreadable reports it
"""
