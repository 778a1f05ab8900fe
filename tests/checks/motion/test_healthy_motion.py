"""Tests that apply all checks to common, healthy kinds of motion (common practice, no source; seen in public data).

Most tests move a wing. The wing is 4 units wide, and its diagonal is 4.3 units.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.finding import Severity
from tests.helpers.broken.motion import silent
from tests.helpers.meshes import Mesh, grid_faces, mapped, plain, prism, torus, wing, with_faces
from tests.helpers.sequences import MATERIALS, Files, along_x, frames, look, look_at_all, move, shot


def still(_: int) -> Mesh:
    return wing(0)


def in_place(time: float) -> Mesh:
    mesh = wing(time)
    return mesh.edit(positions=mesh.positions - np.array([0, 0, 0.15 * time]))


def sized(sizes: Iterable[float]) -> Files:
    meshes = {number: still(0).edit(positions=still(0).positions * size) for number, size in enumerate(sizes, 1)}
    return {**MATERIALS, **frames(meshes)}


def on(each: int, poses: int, step: float = 1.0) -> Files:
    return along_x(step * (frame // each) for frame in range(each * poses))


def bounce(time: float, height: float = 12.0, period: float = 17.0) -> list[float]:
    while height > 0.01:
        if time < period:
            return [0, 4 * height * time / period * (1 - time / period), 0]
        time, height, period = time - period, height * 0.75, period * np.sqrt(0.75)
    return [0, 0, 0]


def held(*, lead: int, tail: int, moving: int = 8, step: float = 3.0) -> Files:
    return along_x([0.0] * lead + [step * at for at in range(1, moving + 1)] + [step * moving] * tail)


MOTIONS: Mapping[str, Callable[[], Files]] = {
    "three diagonals a frame": lambda: along_x(13.0 * frame for frame in range(24)),
    "three diagonals a frame, flapping": lambda: move(lambda n: [0, 0, 13 * n], range(1, 25), wing),
    "on a circle, fast": lambda: move(lambda n: [20 * np.cos(n), 20 * np.sin(n), 0], range(1, 25)),
    "speeding up evenly": lambda: along_x(0.3 * frame**2 for frame in range(24)),
    "speeding up evenly out of a hold, cut short": lambda: along_x([0] * 9 + [0.5 * frame**2 for frame in range(5)]),
    "speeding up, doubling": lambda: along_x(0.01 * 2.0**frame for frame in range(14)),
    "slowing down, halving": lambda: along_x(100 * 0.5**frame for frame in range(14)),
    "easing in and out": lambda: along_x(30 * (1 - np.cos(np.pi * frame / 23)) for frame in range(24)),
    "a ball that bounces": lambda: move(bounce, range(48)),
    "a ball that bounces fast": lambda: move(lambda n: bounce(n, 9.0, 7.0), range(36)),
    "a ball that bounces every fourth frame": lambda: along_x([0, 3, 4, 3] * 8),
    "shaking": lambda: along_x([0] * 12 + [2, -2, 2, -2, 1, -1] + [0] * 12),
    "swinging, six frames a swing": lambda: along_x(3 * np.sin(np.pi * frame / 3) for frame in range(30)),
    "one swing between holds": lambda: along_x(
        [0] * 12 + [3 * np.sin(np.pi * frame / 3) for frame in range(6)] + [0] * 12
    ),
    "on twos": lambda: on(2, 12),
    "on threes": lambda: on(3, 8),
    "on fours": lambda: on(4, 6),
    "on twos, fast": lambda: on(2, 12, 10.0),
    "on threes, few frames": lambda: on(3, 3),
    "on fours, few frames": lambda: on(4, 3),
    "on twos, then on ones": lambda: along_x([0, 0, 2, 2, 4, 4, 6, 6, 8, *range(9, 20)]),
    "on ones, then on twos": lambda: along_x([*range(11), 12, 12, 14, 14, 16, 16, 18, 18]),
    "held at the start": lambda: held(lead=10, tail=0),
    "held in the middle": lambda: along_x([*range(8), *[7] * 9, *range(8, 16)]),
    "held at the end": lambda: held(lead=0, tail=10),
    "held, moved, held": lambda: held(lead=8, tail=8),
    "held for one frame at a time": lambda: along_x([0, 1, 2, 3, 3, 4, 5, 6, 7, 7, 8, 9, 10]),
    "held all the time": lambda: along_x([0] * 12),
    "a cycle three times": lambda: MATERIALS | frames({n: in_place(8 * np.pi * (n % 8) / 8) for n in range(24)}),
    "a closed loop, its first frame again at the end": lambda: move(
        lambda n: [9 * np.cos(2 * np.pi * n / 16), 9 * np.sin(2 * np.pi * n / 16), 0], range(17)
    ),
    "a step of two": lambda: shot(numbers=range(1, 40, 2)),
    "a step of five, from zero": lambda: shot(numbers=range(0, 60, 5)),
    "growing from nothing": lambda: sized(0.01 + 0.1 * frame for frame in range(20)),
    "shrinking to nothing": lambda: sized(2.0 - 0.1 * frame for frame in range(20)),
    "pulsing": lambda: sized(1 + 0.4 * np.sin(frame) for frame in range(24)),
    "a single frame": lambda: shot(numbers=[1]),
    "two frames": lambda: shot(numbers=[1, 2]),
    "two frames far apart": lambda: along_x([0, 50]),
    "three frames": lambda: shot(numbers=[1, 2, 3]),
}  # fmt: skip


@pytest.mark.parametrize("name", MOTIONS)
def test_motion(name: str, tmp_path: Path) -> None:
    silent(tmp_path, MOTIONS[name]())


def test_poses_that_have_nothing_to_do_with_each_other(tmp_path: Path) -> None:
    places = np.random.default_rng(3).normal(0, 20, (24, 3))
    silent(tmp_path, move(lambda n: places[n], range(24)))


TIMINGS: Mapping[str, Callable[[int, int], float]] = {
    "on ones": lambda frame, _: frame,
    "on twos": lambda frame, _: frame // 2 * 2,
    "held from the middle on": lambda frame, frames: min(frame, frames // 2),
    "eased in and out": lambda frame, frames: frames * (1 - np.cos(np.pi * frame / frames)) / 2,
}


@pytest.mark.parametrize("timing", TIMINGS)
@pytest.mark.parametrize("seed", range(6))
def test_a_body_that_moves_and_deforms(seed: int, timing: str, tmp_path: Path) -> None:
    """The shortest period of a deformation is 2 pi / 0.6 = 10.5 frames."""
    rng = np.random.default_rng(seed)
    body, count, length = torus(12, 8), int(rng.integers(1, 5)), int(rng.integers(12, 40))
    shapes = rng.normal(size=(count, *body.positions.shape)) * rng.uniform(0, 0.3)
    pulse, phase = rng.uniform(0.05, 0.6, (count, 1, 1)), rng.uniform(0, 6, (count, 1, 1))
    speed, gain = rng.normal(size=3) * rng.uniform(0, 3), rng.normal(size=3) * rng.uniform(0, 0.2)

    def at(time: float) -> Mesh:
        moved = body.positions + (shapes * np.sin(pulse * time + phase)).sum(axis=0) + speed * time + gain * time**2
        return body.edit(positions=moved, head=wing(0).head, state=wing(0).state)

    findings = look(
        tmp_path, MATERIALS | frames({n: at(TIMINGS[timing](n, length)) for n in range(1, length + 1)})
    ).findings
    of_motion = {"pop", "spike", "jitter", "dropped-frames", "centre-jump", "size-jump", "frozen", "vertex-order"}
    assert {one.check for one in findings if one.severity > Severity.NOTE} & of_motion == set()


@pytest.mark.parametrize("whole", ["", ".0"])
def test_sub_frames(whole: str, tmp_path: Path) -> None:
    at = dict.fromkeys(range(1, 9), whole) | {n + 0.5: ".5" for n in range(1, 9)}
    silent(tmp_path, MATERIALS | {f"manta.{int(n):04}{part}.obj": wing(n).text() for n, part in at.items()})


def test_normals_numbered_anew_in_every_frame(tmp_path: Path) -> None:
    def numbered(frame: int) -> Mesh:
        mesh = wing(frame)
        normals = np.random.default_rng(frame).normal(size=(3 + frame, 3)) * [1, 0.5, 1] - [0, 3, 0]  # down
        mesh = mesh.edit(normals=normals / np.linalg.norm(normals, axis=1, keepdims=True))
        return with_faces(mesh, lambda corner: (corner[0], corner[1], (corner[0] * frame) % len(normals)))

    silent(tmp_path, MATERIALS | frames({n: numbered(n) for n in range(1, 13)}), notes=1)


def test_a_header_that_differs_in_every_frame(tmp_path: Path) -> None:
    files = {name: b"# written 2024-01-%02d\n" % at + data for at, (name, data) in enumerate(shot().items())}
    files |= MATERIALS
    silent(tmp_path, files, notes=0)


def test_exponents_and_twenty_decimals(tmp_path: Path) -> None:
    def text(n: int) -> bytes:
        mesh = wing(n)
        plain_text = mesh.edit(positions=np.empty((0, 3))).text()
        form = "v %.8e %.20f %.17g\n"
        return "".join(form % tuple(row) for row in mesh.positions.tolist()).encode() + plain_text

    silent(tmp_path, MATERIALS | frames({n: text(n) for n in range(1, 13)}), notes=0)


@pytest.mark.parametrize("sides", [12, 32])
def test_many_sided_polygons(sides: int, tmp_path: Path) -> None:
    def at(n: int) -> Mesh:
        mesh = prism(sides)
        return mesh.edit(positions=mesh.positions + np.array([0, 0.1 * n, 0]))

    silent(tmp_path, frames({n: at(n) for n in range(1, 13)}), notes=0)


def test_point_clouds(tmp_path: Path) -> None:
    drift = np.random.default_rng(1).normal(size=(40, 3))
    silent(tmp_path, frames({n: plain(drift * (1 + 0.02 * n), []) for n in range(1, 13)}), notes=1)


def test_a_point_cloud_whose_number_of_points_changes(tmp_path: Path) -> None:
    drift = np.random.default_rng(1).normal(size=(100, 3))
    files = frames({n: plain(drift[: 40 + 3 * n], []) for n in range(1, 13)})
    assert {(one.check, one.severity) for one in look(tmp_path, files).findings} == {
        ("no-faces", Severity.NOTE),
        ("vertex-count", Severity.NOTE),
    }


def test_a_library_a_frame_with_equal_content(tmp_path: Path) -> None:
    texts = {
        n: mesh.edit(head=(f"mtllib manta.{n:04}.mtl", "o manta"))
        for n in range(1, 13)
        if (mesh := wing(n)) is not None
    }
    libraries = {f"manta.{n:04}.mtl": MATERIALS["manta.mtl"] for n in texts}
    silent(tmp_path, {"skin.png": MATERIALS["skin.png"]} | libraries | frames(texts), notes=1)


def splash(n: int, vary: Callable[[int], int]) -> Mesh:
    rows, columns = 5, vary(n)
    u, w = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, columns), indexing="ij")
    height = 0.3 * np.sin(5 * u + 0.4 * n) * np.cos(4 * w)
    positions = np.stack([4 * w, height, 3 * u], axis=-1).reshape(-1, 3)
    # The faces start at different corners, so frames with the same number of faces don't have the same faces.
    faces = [np.roll(face, n).tolist() for face in grid_faces(rows, columns)]
    return mapped(positions, faces, np.stack([w, u], axis=-1).reshape(-1, 2))


@pytest.mark.parametrize(
    "vary",
    [lambda n: 10 + n, lambda n: 10 + 7 * n % 24, lambda n: 10 + 7 * n % 11, lambda n: 10 + 3 * n % 5],
    ids=["all different", "in no order", "some again", "few values"],
)
def test_a_fluid_is_noted_for_its_counts_once(vary: Callable[[int], int], tmp_path: Path) -> None:
    findings = look(tmp_path, frames({n: splash(n, vary) for n in range(1, 25)})).findings
    assert {(one.check, one.severity) for one in findings} == {("vertex-count", Severity.NOTE)}


def test_numbered_parts_are_no_sequence(tmp_path: Path) -> None:
    def part(n: int) -> Mesh:
        mesh = prism(3 + n)
        return mesh.edit(positions=mesh.positions * (1 + 0.5 * (n % 3)) + np.array([5 * n, 0, 0]))

    result = look_at_all(tmp_path, frames({n: part(n) for n in range(1, 13)}, stem="bone."))
    assert not result.inspections
    (notice,) = result.not_sequences
    assert (notice.count, notice.pattern.raw) == (12, b"bone.####.obj")
    assert notice.reason


def test_school_of_fish_of_one_model_in_different_sizes(tmp_path: Path) -> None:
    files = dict(MATERIALS)
    for name, size in (("ray_a.", 1.0), ("ray_b.", 0.6), ("ray_c.", 1.7)):
        files |= frames({n: wing(n).edit(positions=wing(n).positions * size) for n in range(1, 6)}, stem=name)
    for inspection in look_at_all(tmp_path, files).inspections:
        assert not inspection.findings
