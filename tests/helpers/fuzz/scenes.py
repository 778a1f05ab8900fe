"""Small random scenes, sound and degenerate, for tests of everything that reads a sequence.

Run by hand: `python -m tests.helpers.fuzz.scenes [--cases 20000] [--seed N] [--first CASE]`
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np

from inspector.formats.format import Trait
from inspector.formats.problems import UnreadableFrame
from inspector.formats.registry import format_by_id
from inspector.formats.wavefront.decompose import mesh_of
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fuzz import written_scenes
from tests.helpers.fuzz.by_hand import main
from tests.helpers.fuzz.commands import try_commands

Files = dict[str, bytes]

UVS = ("point", "level line", "upright line", "two points", "good", "far", "one tile up", "tiny", "huge", "bad", "none")
SHAPES = ("grid", "point", "line", "far", "tiny", "huge", "strip")


def scene(chance: random.Random) -> Files:
    """Return the files of a random sequence. The content may differ from frame to frame."""
    rows, columns = chance.randint(1, 4), chance.randint(1, 4)
    shape, names = chance.choice(SHAPES), [f"m{number}" for number in range(chance.randint(0, 3))]
    layout = {name: chance.choice(UVS) for name in [*names, ""]}
    files: Files = {}
    for number in range(1, chance.randint(2, 6)):
        if chance.random() < 0.1:  # from this frame, one material has a different layout
            layout[chance.choice(list(layout))] = chance.choice(UVS)
        files[f"kelp.{number:04d}.obj"] = _frame(chance, rows, columns, shape, layout, number)
    if chance.random() < 0.7:
        lines = [f"newmtl {name}\nKd 1 1 1\nmap_Kd kelp.png\n" for name in names if chance.random() < 0.9]
        files["kelp.mtl"] = "".join(lines).encode()
        if chance.random() < 0.7:
            files["kelp.png"] = _image(chance)
    return files


def _frame(chance: random.Random, rows: int, columns: int, shape: str, layout: dict[str, str], number: int) -> bytes:
    lines = ["mtllib kelp.mtl"] if len(layout) > 1 and chance.random() < 0.9 else []
    for row in range(rows + 1):
        for column in range(columns + 1):
            x, y, z = _position(chance, shape, column / columns, row / rows, number)
            lines.append(f"v {x:.9g} {y:.9g} {z:.9g}")
    uvs, faces = [], []
    names = list(layout)
    for row in range(rows):
        for column in range(columns):
            first = row * (columns + 1) + column + 1
            corners = [first, first + 1, first + columns + 2, first + columns + 1]
            if chance.random() < 0.1:
                corners[chance.randrange(4)] = chance.choice(corners)
            elif chance.random() < 0.3:
                corners.pop()
            name = names[(row * columns + column) * len(names) // (rows * columns)]
            kind = layout[name]
            words = []
            for vertex in corners:
                if kind == "none" or chance.random() < 0.01:
                    words.append(f"{vertex}//1" if chance.random() < 0.5 else f"{vertex}")
                else:
                    at = divmod(vertex - 1, columns + 1)
                    uvs.append(f"vt {_uv(chance, kind, at[1] / columns, at[0] / rows)}")
                    words.append(f"{vertex}/{len(uvs)}/1")
            faces.append((name, "f " + " ".join(words)))
    lines += [*uvs, chance.choice(["vn 0 0 1", "vn 0 0 0", "vn 1e200 0 0", "vn 0 0 -1"])]
    used = ""
    for name, face in faces:
        if name != used:
            lines.append(f"usemtl {name}")
            used = name
        lines.append(face)
    return ("\n".join(lines) + "\n").encode()


def _position(chance: random.Random, shape: str, x: float, y: float, number: int) -> tuple[float, float, float]:
    move = 0.01 * number
    if shape == "point":
        return 1.0, 2.0, 3.0
    if shape == "line":
        return x + move, 0.0, 0.0
    scale = {"far": 1.0, "tiny": 1e-30, "huge": 1e30}.get(shape, 1.0)
    offset = 1e7 if shape == "far" else 0.0
    height = 1e-9 * y if shape == "strip" else y
    z = 0.2 * math.sin(4.0 * x + move) + (chance.random() * 0.01 if chance.random() < 0.2 else 0.0)
    return offset + scale * (x + move), scale * height, scale * z


def _uv(chance: random.Random, kind: str, u: float, v: float) -> str:
    if kind == "bad":
        return chance.choice(["nan 0.5", "inf 0", "0.5 -inf", "1e400 0", "0.5 0.5"])
    points = {
        "point": (0.0, 0.0),
        "level line": (u, 0.5),
        "upright line": (0.5, v),
        "two points": (0.25, 0.5) if u < 0.5 else (0.75, 0.5),
        "good": (u, v),
        "far": (u + 1e6, v - 1e6),
        "one tile up": (u, v + 1.0),
        "tiny": (u * 1e-12, v * 1e-12),
        "huge": (u * 1e12, v * 1e12),
    }
    return "{:.9g} {:.9g}".format(*points[kind])


def _image(chance: random.Random) -> bytes:
    from PIL import Image

    stream = BytesIO()
    size = chance.choice([(1, 1), (4, 4), (1, 64), (32, 16)])
    Image.new("RGB", size, (chance.randrange(256), 128, 255)).save(stream, "PNG")
    whole = stream.getvalue()
    return whole if chance.random() < 0.8 else whole[: len(whole) // 2]


FORMS = ("ply", "off", "stl", "glb")


def in_form(files: Files, form: str) -> Files:
    """Convert the frames to another format. Return all files unchanged if a frame can't be read, or if the format can't
    represent a face."""
    kind, made = format_by_id(form), {}
    assert kind.write is not None
    for name, data in files.items():
        try:
            frame = read_frame(data) if name.endswith(".obj") else None
        except UnreadableFrame:
            return files
        if frame is None:
            made[name] = data
            continue
        mesh = mesh_of(frame)
        whole = min([0, *mesh.corners.v, *mesh.corners.vt, *mesh.corners.vn]) >= 0
        if not whole or (Trait.POLYGONS not in kind.carries and (mesh.corners.sizes != 3).any()):
            return files
        with np.errstate(over="ignore"):
            mesh = replace(mesh, positions=mesh.positions.astype(np.float32))
            made[name.replace(".obj", kind.endings[0].decode())] = kind.write(mesh)
    return made


def run_case(folder: Path, chance: random.Random) -> list[str]:
    source, work = folder / "in", folder / "work"
    source.mkdir()
    work.mkdir()
    files = scene(chance) if chance.random() < 0.6 else written_scenes.scene(chance)
    if chance.random() < 0.25:
        files = in_form(files, chance.choice(FORMS))
    for name, data in files.items():
        (source / name).write_bytes(data)
    return try_commands(source, work, chance)


if __name__ == "__main__":
    main(run_case, 20_000)
