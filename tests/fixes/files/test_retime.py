"""Tests of `retime`."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.planning import make_plan
from inspector.errors import Refusal
from inspector.fixes.base.blend import blend
from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from inspector.surface.triangles import triangulate
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Floats, Mesh, plain, sphere, torus, wing
from tests.helpers.sequences import Files, frames, look_at_all, shot
from tests.helpers.shapes import vertex_normals

BALL = sphere(5, 6)
SPAN = 2.0
"""Duration of the motion in seconds."""


def swum(time: float) -> Floats:
    """Return the positions at a given time, in seconds. Each vertex moves on a wave of its own."""
    phase = BALL.positions @ [1.0, 2.0, 3.0]
    return BALL.positions + np.stack([np.sin(2 * time + phase), np.cos(3 * time + phase), np.sin(time - phase)], axis=1)


def swim(intervals: int) -> Files:
    every = SPAN / intervals
    meshes = {number: BALL.edit(positions=swum((number - 1) * every)).text(12) for number in range(1, intervals + 2)}
    return frames(meshes)


def error(folder: Path, intervals: int, way: str) -> float:
    """Triple the frame rate, and return the largest difference of a coordinate from the true motion (`swum`)."""
    result = fixed(folder, swim(intervals), "retime", {"from": 1, "to": 3, "way": way})
    made = {name: data for name, data in result.after.items() if name.endswith(".obj")}
    assert len(made) == 3 * intervals + 1
    worst = 0.0
    for name, data in made.items():
        time = (int(name.split(".")[1]) - 1) * SPAN / intervals / 3
        worst = max(worst, float(np.abs(read_frame(data).positions - swum(time)).max()))
    return worst


@pytest.mark.parametrize(("way", "order"), [("linear", 2.0), ("smooth", 3.0)])
def test_the_error_falls_at_the_order_of_theory(tmp_path: Path, way: str, order: float) -> None:
    """Linear interpolation is second-order accurate. Cubic convolution with a = -1/2 (the Catmull-Rom spline) is
    third-order accurate if frames beyond the ends are added. Source: Keys 1981, "Cubic convolution interpolation for
    digital image processing"."""
    errors = [error(tmp_path / str(intervals), intervals, way) for intervals in (8, 16, 32)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert (np.abs(orders - order) < 0.25).all(), (errors, orders)


def test_a_parabola_is_met_exactly_by_the_smooth_way_also_at_the_ends(tmp_path: Path) -> None:
    """Smooth interpolation is third-order accurate, so it reproduces polynomials up to the second degree (Keys
    1981)."""

    def at(time: float) -> Floats:
        return BALL.positions + np.array([time**2, 1.0 - time, 0.5 * time**2 + time])

    files = frames({number: BALL.edit(positions=at(number)).text(8) for number in (1, 2, 3)})
    result = fixed(tmp_path, files, "retime", {"from": 24, "to": 60, "way": "smooth"})
    for order in range(6):
        time = 1 + order * 24 / 60
        assert np.abs(read_frame(result.after[f"manta.{order + 1:04}.obj"]).positions - at(time)).max() < 1e-7


def test_frames_that_fall_on_the_source_s_are_its_own_bytes(tmp_path: Path) -> None:
    source = shot()
    result = fixed(tmp_path, source, "retime", {"from": 24, "to": 30}, rate=Fraction(24))
    made = sorted(name for name in result.after if name.endswith(".obj"))
    assert made == [f"manta.{number:04}.obj" for number in range(1, 15)]  # 11 steps of 1/24 s are 13.75 steps of 1/30 s
    for old, new in ((1, 1), (5, 6), (9, 11)):
        assert result.after[f"manta.{new:04}.obj"] == source[f"manta.{old:04}.obj"]
    a, b = (read_frame(source[f"manta.000{number}.obj"]).positions for number in (1, 2))
    assert np.abs(read_frame(result.after["manta.0002.obj"]).positions - (0.2 * a + 0.8 * b)).max() < 1e-6
    assert result.delivery.proof.clean
    receipt = json.loads(result.after["meshqc-receipt.json"])
    marked = {one["path"] for one in receipt["files"] if one["invented"] == "blend"}
    assert marked == {*made} - {"manta.0001.obj", "manta.0006.obj", "manta.0011.obj"}
    assert "Frame rate: 30 fps" in result.after["HANDOFF.txt"].decode()


def test_a_lower_rate_drops_frames_and_invents_none_where_they_fit(tmp_path: Path) -> None:
    source = shot()
    result = fixed(tmp_path, source, "retime", {"from": "24", "to": "12"})
    made = [result.after[name] for name in sorted(result.after) if name.endswith(".obj")]
    assert made == [source[f"manta.{number:04}.obj"] for number in (1, 3, 5, 7, 9, 11)]
    assert "(0 blended, linear) instead of 12" in result.step.summary


def test_rates_are_fractions_so_that_nothing_creeps(tmp_path: Path) -> None:
    """The rates 24000/1001 and 30000/1001 fps are from SMPTE ST 12-1. Their ratio is exactly 5/4."""
    step = plan_for(tmp_path, shot(), "retime", {"from": "24000/1001", "to": "30000/1001"}).steps[0]
    assert step.frames[:4] == (1, Fraction(9, 5), 2, Fraction(13, 5))
    assert 5 in step.frames
    assert step.parameters == {"from": "24000/1001", "to": "30000/1001", "way": "linear"}


def test_it_touches_positions_and_normals_and_nothing_else(tmp_path: Path) -> None:
    rings = {
        number: torus(9, 7, large=2 + number / 20).edit(head=("o ring", "# kept"), state=("g a b",))
        for number in (1, 2, 3)
    }
    result = fixed(tmp_path, frames(rings), "retime", {"from": 1, "to": 2})
    before, made = (read_frame(data) for data in (result.before["manta.0001.obj"], result.after["manta.0002.obj"]))
    kept = [
        [frame.data[block.start : block.stop] for block in frame.blocks if block.keyword not in (b"v", b"vn", b"f")]
        for frame in (before, made)
    ]
    assert kept[0] == kept[1]
    assert np.array_equal(before.corners.vt, made.corners.vt)
    assert result.delivery.proof.clean


def with_own_normals(mesh: Mesh) -> Frame:
    """Return a frame with one normal per vertex: the mean of the normals of the triangles around the vertex, weighted
    by angle."""
    frame = read_frame(mesh.text(10))
    normals = vertex_normals(frame.positions, triangulate(frame.corners, frame.positions))
    faces = tuple(tuple((v, vt, v) for v, vt, _ in face) for face in mesh.faces)
    return read_frame(mesh.edit(normals=normals, faces=faces).text(10))


def test_normals_that_the_faces_give_are_worked_out_anew() -> None:
    ball = sphere(9, 12)
    a, b = (
        with_own_normals(plain(ball.positions * stretch, [tuple(c[0] for c in f) for f in ball.faces]))
        for stretch in ([1, 1, 1], [1, 1, 6])
    )
    half = blend([a, b], [0.5, 0.5])
    expected = vertex_normals(half.positions, triangulate(half.corners, half.positions))[half.corners.v]
    assert np.abs(half.normals[half.corners.vn] - expected).max() < 1e-12
    mean = a.normals[a.corners.vn] + b.normals[b.corners.vn]
    mean /= np.linalg.norm(mean, axis=1, keepdims=True)
    assert np.abs(mean - expected).max() > 0.05  # blended normals would differ from those of the faces


def test_normals_of_other_making_are_blended_and_hard_edges_stay() -> None:
    text = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 %d\nv 1 0 %d\nvn 0 0 1\nvn 0 1 0\n"
    text += b"f 1//1 2//1 3//1 4//1\nf 1//2 5//2 6//2 2//2\n"
    a, b = read_frame(text % (1, 1)), read_frame(text % (2, 2))
    half = blend([a, b], [0.5, 0.5])
    assert np.allclose(half.normals[half.corners.vn], [[0, 0, 1]] * 4 + [[0, 1, 0]] * 4)


GAP = shot(numbers=[1, 2, 3, 5, 6])
OTHER = shot({4: lambda mesh: mesh.edit(faces=mesh.faces[1:])})


@pytest.mark.parametrize(
    ("files", "parameters", "reason"),
    [
        (shot(), {}, "give both rates"),
        (shot(), {"from": 24}, "give both rates"),
        (shot(), {"from": 24, "to": "0"}, "to=0 is not a frame rate"),
        (shot(), {"from": "24/0", "to": 30}, "from=24/0 is not a frame rate"),
        (shot(), {"from": 24, "to": "24.0"}, "both rates are the same"),
        (shot(), {"from": 24, "to": 2400}, "the new rate is more than 10 times the old rate"),
        (shot(), {"from": 24, "to": 1}, "only 1 of 12 frames would be left"),
        (shot(), {"from": 24, "to": 30, "way": "magic"}, "way=magic is not one of linear, smooth"),
        (GAP, {"from": 24, "to": 30}, "frame 4 is missing; fill every gap first"),
        (
            shot() | {"manta.0004.obj": b""},
            {"from": 24, "to": 30},
            "frame 4 is broken; repair every broken frame first",
        ),
        (shot() | {"manta.4.obj": wing(4).text()}, {"from": 24, "to": 30}, "several files have the same frame number"),
        (OTHER, {"from": 24, "to": 30}, "frame 4 differs from the reference frame in vertex count or faces"),
    ],
)
def test_refusals(tmp_path: Path, files: Files, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "retime", parameters)


def test_frames_that_another_fix_makes_are_not_blended(tmp_path: Path) -> None:
    inspection = look_at_all(tmp_path, shot())
    both = [Choice("fill-frames", {}, frames=(Fraction(4),)), Choice("retime", {"from": 24, "to": 30})]
    with pytest.raises(Refusal, match="retime: other fixes add or drop frames"):
        make_plan(inspection, both)
