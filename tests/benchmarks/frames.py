"""Frames for the benchmarks: a waving sheet of quads whose v and vn change in every frame, vt and f never."""

from __future__ import annotations

from pathlib import Path

import numpy as np


def sheet(columns: int, rows: int, time: float) -> tuple[np.ndarray, np.ndarray]:
    """Positions and unit normals, (columns * rows, 3) each, of a sheet with a travelling wave."""
    u, v = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows))
    phase = 6.0 * u + 4.0 * v + time
    positions = np.stack([3 * u - 1.5, 0.2 * np.sin(phase), 2 * v - 1 + 0.01 * time], axis=-1)
    slope = 0.2 * np.cos(phase)
    normals = np.stack([-slope * 2, np.ones_like(u), -slope * 2], axis=-1)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    return positions.reshape(-1, 3), normals.reshape(-1, 3)


def quads(columns: int, rows: int) -> np.ndarray:
    """Corner indices from 1, (faces, 4), counter-clockwise seen from +y."""
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel() + 1
    return np.stack([first, first + columns, first + columns + 1, first + 1], axis=-1)


def write_sequence(folder: Path, count: int, columns: int, rows: int) -> list[Path]:
    """`count` frames in `folder`; returns their paths."""
    u, v = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows))
    uvs = text_rows("vt", np.stack([u.ravel(), v.ravel()], axis=-1))
    faces = quads(columns, rows)
    face_text = "f %d/%d/%d %d/%d/%d %d/%d/%d %d/%d/%d\n" * len(faces) % tuple(np.repeat(faces, 3).tolist())
    paths = []
    for number in range(1, count + 1):
        positions, normals = sheet(columns, rows, 0.1 * number)
        path = folder / f"sheet.{number:04d}.obj"
        path.write_text(
            "o sheet\n" + text_rows("v", positions) + uvs + text_rows("vn", normals) + "s 1\n" + face_text,
            newline="\n",
        )
        paths.append(path)
    return paths


def text_rows(keyword: str, values: np.ndarray) -> str:
    row = keyword + " %.6f" * values.shape[1] + "\n"
    return row * len(values) % tuple(values.ravel().tolist())
