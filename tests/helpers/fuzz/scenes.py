"""Random small scenes, sound and degenerate, through everything that looks at a sequence: nothing of ours may break.

By hand: python -m tests.helpers.fuzz.scenes [--cases 20000] [--seed N]
"""

from __future__ import annotations

import argparse
import math
import random
import tempfile
import time
from io import BytesIO
from pathlib import Path

from inspector import inspect
from inspector.errors import MeshqcError
from inspector.formats.problems import Problem
from inspector.lettering.sequence_fit import SequenceFit, Wanted, fit_sequence, read_lettering
from inspector.lettering.still_pictures import Dress, draw_frames
from inspector.lettering.template_fit import template_of
from inspector.lettering.viewpoint import View
from inspector.picture.grid import grid_of_aspect
from inspector.picture.svg import template_svg
from inspector.picture.template import draw_template
from inspector.report.document import folder_document
from inspector.report.formats import Request, csv
from inspector.report.html.gather import gather
from inspector.report.html.page import html_text
from inspector.report.text import verdict_text
from inspector.sequence.series import Series

Files = dict[str, bytes]

UVS = ("point", "level line", "upright line", "two points", "good", "far", "one tile up", "tiny", "huge", "bad", "none")
SHAPES = ("grid", "point", "line", "far", "tiny", "huge", "strip")


def scene(chance: random.Random) -> Files:
    """The files of one random sequence; each frame may differ from the others in what it holds."""
    rows, columns = chance.randint(1, 4), chance.randint(1, 4)
    shape, names = chance.choice(SHAPES), [f"m{number}" for number in range(chance.randint(0, 3))]
    layout = {name: chance.choice(UVS) for name in [*names, ""]}
    files: Files = {}
    for number in range(1, chance.randint(2, 6)):
        if chance.random() < 0.1:  # one frame in another layout
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


def run_case(files: Files, folder: Path) -> None:
    """Write the files into an empty folder and use everything on it. Refusals in plain words are right answers."""
    for name, data in files.items():
        (folder / name).write_bytes(data)
    result = inspect(folder)
    for inspection in result.inspections:
        assert inspection.verdict.failed == (), inspection.verdict.failed
        problems: list[Problem] = [problem for facts in inspection.series.facts for problem in facts.problems]
        assert "not-measured" not in {problem.kind for problem in problems}, problems
        fit_and_draw(inspection.series)
    page = gather(result, lambda *_: None)
    for shown in page.sequences:
        assert not any("a mistake in meshqc" in why for why in shown.why.values()), shown.why
    html_text(page)
    verdict_text(result)
    folder_document(result)
    csv.render(result, Request(folder))


def fit_and_draw(series: Series) -> None:
    """The texture's fit, the template and pictures of two frames."""
    fit: SequenceFit | None = None
    try:
        fit = fit_sequence(series, Wanted(captions=("KELP",)))
        read_lettering(fit)
    except MeshqcError:
        pass
    if fit is not None:
        try:
            template = template_of(fit)
        except MeshqcError:
            template = None
        if template is not None:
            template_svg(template)
            if template.width * template.height < 1 << 18:
                draw_template(template)
    try:
        shot = View(width=40, height=30).shot(series)
        texture = None if fit is None else grid_of_aspect(fit.material.wanted_aspect, 32)
        indices = [index for index in range(len(series.facts)) if series.usable[index]][:2]
        list(draw_frames(series, indices, shot, [Dress(texture)], lambda *_: None))
    except MeshqcError:
        pass


def run_cases(cases: int, seed: int) -> None:
    """Run so many random scenes. An AssertionError, or any other, names the case by its seed."""
    for case in range(cases):
        chance = random.Random(f"{seed} {case}")
        with tempfile.TemporaryDirectory() as folder:
            try:
                run_case(scene(chance), Path(folder))
            except Exception as error:
                raise AssertionError(f"seed {seed}, case {case}: {type(error).__name__}: {error}") from error


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**9))
    options = parser.parse_args()
    start = time.monotonic()
    print(f"seed {options.seed}", flush=True)
    run_cases(options.cases, options.seed)
    print(f"{options.cases:,} scenes in {time.monotonic() - start:.0f} s")


if __name__ == "__main__":
    main()
