"""Frames for the benchmarks: a waving sheet of quads, in the kinds of files that exporters write."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

KINDS = {
    "stable": "v and vn change in every frame, vt and f never",
    "vn-indices": "vn indices change in every frame, as where a writer merges equal normals",
    "exponents": "17 decimals with exponents, triangles, no vt",
    "topology": "faces change in every frame, as a simulation's do",
}


def sheet(columns: int, rows: int, time: float) -> tuple[Floats, Floats]:
    u, v = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows))
    phase = 6.0 * u + 4.0 * v + time
    positions = np.stack([3 * u - 1.5, 0.2 * np.sin(phase), 2 * v - 1 + 0.01 * time], axis=-1)
    slope = 0.2 * np.cos(phase)
    normals = np.stack([-slope * 2, np.ones_like(u), -slope * 2], axis=-1)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    return positions.reshape(-1, 3), normals.reshape(-1, 3)


def quads(columns: int, rows: int) -> Integers:
    """Return quads, (n, 4). Indices start at 1. Corners are counter-clockwise as seen from +y."""
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel() + 1
    return np.stack([first, first + columns, first + columns + 1, first + 1], axis=-1)


def triangles(faces: Integers) -> Integers:
    return np.concatenate([faces[:, [0, 1, 2]], faces[:, [0, 2, 3]]])


def write_sequence(folder: Path, count: int, columns: int, rows: int, kind: str = "stable") -> list[Path]:
    u, v = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows))
    uvs = text_rows("vt", np.stack([u.ravel(), v.ravel()], axis=-1))
    faces = quads(columns, rows)
    stable = face_rows(faces, faces, faces)
    paths = []
    for number in range(1, count + 1):
        positions, normals = sheet(columns, rows, 0.1 * number)
        head = "o sheet\n" + text_rows("v", positions)
        if kind == "exponents":
            head = "o sheet\n" + text_rows("v", positions, "%.17e")
            body = text_rows("vn", normals) + slash_rows(triangles(faces))
        elif kind == "vn-indices":
            order = np.random.default_rng(number).permutation(len(normals))
            place = np.argsort(order)
            body = uvs + text_rows("vn", normals[order]) + face_rows(faces, faces, place[faces - 1] + 1)
        elif kind == "topology":
            other = np.roll(faces, number, axis=0)
            body = uvs + text_rows("vn", normals) + face_rows(other, other, other)
        else:
            body = uvs + text_rows("vn", normals) + "s 1\n" + stable
        paths.append(folder / f"sheet.{number:05d}.obj")
        paths[-1].write_text(head + body, newline="\n")
    return paths


def text_rows(keyword: str, values: Floats, form: str = "%.6f") -> str:
    row = keyword + f" {form}" * values.shape[1] + "\n"
    return row * len(values) % tuple(values.ravel().tolist())


def face_rows(v: Integers, vt: Integers, vn: Integers) -> str:
    row = "f" + " %d/%d/%d" * v.shape[1] + "\n"
    return row * len(v) % tuple(np.stack([v, vt, vn], axis=-1).ravel().tolist())


def slash_rows(v: Integers) -> str:
    row = "f" + " %d//%d" * v.shape[1] + "\n"
    return row * len(v) % tuple(np.repeat(v, 2).tolist())
