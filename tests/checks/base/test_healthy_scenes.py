"""Tests of all checks on healthy animations. What counts as healthy is based on common practice (no source)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.helpers.broken.motion import silent
from tests.helpers.meshes import Floats, Mesh, grid_faces, mapped, sphere, wing
from tests.helpers.sequences import MATERIALS, Files, frames

HEAD, STATE = wing(0).head, wing(0).state


def sheet(rows: int, columns: int, place: Callable[[Floats, Floats], tuple[Any, ...]]) -> Mesh:
    u, w = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, columns), indexing="ij"))
    positions = np.stack(np.broadcast_arrays(*place(u, w)), axis=1).astype(float)
    mesh = mapped(positions, grid_faces(rows, columns), 0.9 * np.stack([w, u], axis=1) + 0.05)
    return mesh.edit(head=HEAD, state=STATE)


def manta(time: float, at: Any = (0, 0, 0), size: float = 1.0) -> Mesh:
    def place(u: Floats, w: Floats) -> tuple[Floats, ...]:
        x = 6 * (w - 0.5)
        chord = 0.1 + 1.8 * (0.5 - np.abs(w - 0.5))
        lift = 0.5 * (np.abs(x) / 3) ** 1.5 * np.sin(0.5 * time - 0.5 * np.abs(x))
        return x, lift + 0.15 * chord * np.sin(np.pi * u), 2.4 * chord * (u - 0.5) + 0.3 * np.abs(x)

    mesh = sheet(6, 15, place)
    return mesh.edit(positions=size * (mesh.positions + np.asarray(at, float)))


def kelp(time: float, sway: float = 1.0) -> Mesh:
    def place(u: Floats, w: Floats) -> tuple[Floats, ...]:
        across, turn = 0.8 * (w - 0.5) * (1 - 0.6 * u), 0.6 * u * np.sin(0.2 * time)
        x = sway * u**2 * np.sin(0.35 * time - 2.5 * u) + across * np.cos(turn)
        return x, 10 * u, across * np.sin(turn) + 0.3 * u * np.sin(0.15 * time)

    return sheet(16, 4, place)


def jelly(time: float, strength: float, period: float, sharp: float = 1.0) -> Mesh:
    """Return a frame of a jellyfish that swims.

    If `sharp` is below 1, the bell changes its shape suddenly, and keeps the new shape until the next change.
    """
    ball = sphere(10, 12)
    beat = np.sin(2 * np.pi * time / period)
    beat = np.sign(beat) * np.abs(beat) ** sharp
    x, y, z = ball.positions.T
    wide = 2 + strength * beat * (1 - z)
    positions = np.stack([x * wide, 2 * z * (1 - 0.3 * strength * beat) + 0.35 * time, -y * wide], axis=1)
    uvs = 0.5 + 0.45 * np.stack([x, y], axis=1) * (np.arccos(z) / np.pi)[:, None]
    return mapped(positions, [[v for v, _, _ in face] for face in ball.faces], uvs).edit(head=HEAD, state=STATE)


def unrolled(time: float, length: int) -> Mesh:
    def place(u: Floats, w: Floats) -> tuple[Floats, ...]:
        along, flat, radius = 8 * u, 8 * eased(time, length), 0.3 + 0.16 * u
        turn = np.maximum(along - flat, 0) / radius
        return np.minimum(along, flat) + radius * np.sin(turn), radius * (1 - np.cos(turn)), 4 * w

    return sheet(24, 6, place)


def unfolded(time: float, length: int) -> Mesh:
    share = eased(time, length)
    return sheet(31, 5, lambda u, w: (8 * u * (0.15 + 0.85 * share), 0.7 * (1 - share) * np.abs(10 * u % 2 - 1), 4 * w))


def eased(time: float, length: float) -> float:
    return float(1 - np.cos(np.pi * np.clip(time / length, 0, 1))) / 2


def turned(mesh: Mesh, angle: float) -> Mesh:
    c, s = np.cos(angle), np.sin(angle)
    return mesh.edit(positions=mesh.positions @ np.array([[c, 0, -s], [0, 1, 0], [s, 0, c]]))


def grown(mesh: Mesh, size: float) -> Mesh:
    return mesh.edit(positions=size * mesh.positions)


def shaken(n: int) -> Floats:
    return np.random.default_rng(n).normal(0, 0.15, 3)


def taken(of: Callable[[int], Mesh], count: int = 32) -> Files:
    return MATERIALS | frames({n: of(n) for n in range(1, count + 1)})


SCENES: Mapping[str, Callable[[], Files]] = {
    "a manta fast across": lambda: taken(lambda n: manta(n, [5 * n - 60, 0, 0])),
    "a manta that crosses in a few frames": lambda: taken(lambda n: manta(n, [25 * n - 260, 0, 3 * n])),
    "a manta in a circle": lambda: taken(lambda n: turned(manta(n, [10, 0, 0]), 0.12 * n)),
    "a manta under a shaking camera": lambda: taken(lambda n: manta(n, shaken(n))),
    "a slow start and stop": lambda: taken(lambda n: manta(12 * eased(n, 60), [40 * eased(n, 60), 0, 0]), 60),
    "on twos": lambda: taken(lambda n: manta(n // 2 * 2, [0.8 * (n // 2 * 2), 0, 0])),
    "on threes, then on ones": lambda: taken(lambda n: manta(n // 3 * 3 if n < 17 else n)),
    "locked to the camera": lambda: taken(lambda _: manta(0)),
    "locked to the camera, breathing": lambda: taken(lambda n: manta(0, size=1 + 0.0005 * np.sin(0.3 * n))),
    "turning": lambda: taken(lambda n: turned(manta(0), 2 * np.pi * n / 24)),
    "turning, five frames a turn": lambda: taken(lambda n: turned(manta(0), 2 * np.pi * n / 5.3)),
    "kelp sways": lambda: taken(kelp),
    "kelp sways hard": lambda: taken(lambda n: kelp(3 * n, 5)),
    "kelp hardly moves": lambda: taken(lambda n: kelp(n, 0.002)),
    "a jelly pulses strongly": lambda: taken(lambda n: jelly(n, 0.8, 8)),
    "a jelly pulses suddenly": lambda: taken(lambda n: jelly(n, 0.7, 12, sharp=0.3), 48),
    "a jelly, three frames a pulse": lambda: taken(lambda n: jelly(n, 0.6, 3)),
    "grows from a point": lambda: taken(lambda n: grown(jelly(n, 0.35, 16), (n - 1) / 31)),
    "grows from a point, eased": lambda: taken(lambda n: grown(kelp(n), eased(n - 1, 24))),
    "shrinks to a point": lambda: taken(lambda n: grown(jelly(n, 0.35, 16), (32 - n) / 31)),
    "springs open": lambda: taken(lambda n: grown(jelly(0, 0.3, 8), 1 - np.exp(-0.35 * n) * np.cos(0.9 * n))),
    "flattened and back": lambda: taken(
        lambda n: jelly(0, 0, 8).edit(positions=jelly(0, 0, 8).positions * [1, abs(np.cos(np.pi * n / 32)), 1])
    ),
    "a cloth unrolls": lambda: taken(lambda n: unrolled(n - 1, 31)),
    "a cloth unfolds": lambda: taken(lambda n: unfolded(n - 1, 31)),
    "from frame 1001": lambda: MATERIALS | frames({1000 + n: manta(n) for n in range(1, 25)}),
    "every second frame": lambda: MATERIALS | frames({1001 + 2 * n: manta(2 * n) for n in range(24)}),
}  # fmt: skip


@pytest.mark.parametrize("name", SCENES)
def test_scene(name: str, tmp_path: Path) -> None:
    silent(tmp_path, SCENES[name](), notes=3)


@pytest.mark.parametrize(("size", "decimals"), [(0.001, 8), (1000.0, 3), (1000.0, 2)])
def test_millimetres_and_kilometres(size: float, decimals: int, tmp_path: Path) -> None:
    texts = {n: manta(n, [0.2 * n, 0, 0], size).text(decimals) for n in range(1, 25)}
    silent(tmp_path, MATERIALS | frames(texts), size=6 * size)
