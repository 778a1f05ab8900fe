"""Tests of `fill-frames`."""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.delivery.choices import all_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.demo import demo_files
from inspector.errors import Refusal
from inspector.fixes.base.blend import blend
from inspector.fixes.files.fill_frames import POSES_BEND
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.topology import diagonal_turned
from tests.helpers.broken.uvs import bare, beyond, shifted, trembling
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh, torus, wing, with_faces
from tests.helpers.sequences import MATERIALS, Files, frames, look_at_all, move, shot

GAP = shot(numbers=[*range(1, 6), 7, *range(10, 14)])


def flipped(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=(mesh.faces[0][1:] + mesh.faces[0][:1], *mesh.faces[1:]))


def sets_of_poses(bend: float = 1.7) -> Files:
    """Return frames of a mesh that alternates between two heights while it moves along x.

    Frames n - 1 and n + 1 are 0.2 units apart, and frame n is 0.1 * `bend` units away from their midpoint.
    """
    return move(lambda n: [0.1 * n, 0.1 * bend * (n % 2), 0], range(1, 13))


def positions(data: bytes) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    return np.asarray(read_frame(data).positions)


def test_gaps_are_blended_by_their_place_between_the_neighbours(tmp_path: Path) -> None:
    result = fixed(tmp_path, GAP, "fill-frames", invent_at_most=3)
    assert result.step.frames == (6, 8, 9)
    for made, before, after, share in (("0006", "0005", "0007", 1 / 2), ("0009", "0007", "0010", 2 / 3)):
        a, b = (positions(GAP[f"manta.{number}.obj"]) for number in (before, after))
        assert np.allclose(positions(result.after[f"manta.{made}.obj"]), a + share * (b - a), rtol=0, atol=1e-6)
    assert {name for name in GAP if GAP[name] != result.after[name]} == set()
    assert result.delivery.proof.clean
    receipt = json.loads(result.after["meshqc-receipt.json"])
    assert {one["path"]: one["invented"] for one in receipt["files"] if one["invented"]} == {
        f"manta.000{number}.obj": "blend" for number in (6, 8, 9)
    }
    assert "Added frames" in result.after["HANDOFF.txt"].decode()


def test_a_held_frame_is_the_nearest_one_and_is_not_called_frozen(tmp_path: Path) -> None:
    result = fixed(tmp_path, GAP, "fill-frames", {"mode": "hold"}, invent_at_most=3)
    assert result.after["manta.0009.obj"] == GAP["manta.0010.obj"]
    assert result.after["manta.0008.obj"] == GAP["manta.0007.obj"]
    assert result.delivery.proof.clean
    assert {one.severity.word for one in result.delivery.after.inspections[0].findings} == {"note"}


def test_frames_beyond_the_last_one_are_held(tmp_path: Path) -> None:
    expected = (Fraction(1), Fraction(14))
    result = fixed(tmp_path, shot(), "fill-frames", expected=expected)
    assert {result.after[f"manta.00{number}.obj"] for number in (13, 14)} == {shot()["manta.0012.obj"]}
    assert result.delivery.proof.clean


@pytest.mark.parametrize(
    "broken",
    [
        wing(6).text()[:300],
        wing(6).text().replace(b"v 0", b"v nan", 1),
        flipped(wing(6)).text(),
        wing(6).edit(faces=wing(6).faces[:-1]).text(),
        wing(6).text() + b"v 0 0 0\n",
        b"",
    ],
    ids=["cut off", "bad number", "other faces", "face lost", "stray vertex", "empty"],
)
def test_a_broken_frame_is_made_anew_under_its_own_name(tmp_path: Path, broken: bytes) -> None:
    files = shot() | {"manta.0006.obj": broken}
    result = fixed(tmp_path, files, "fill-frames")
    a, b = (positions(files[f"manta.000{number}.obj"]) for number in (5, 7))
    assert np.allclose(positions(result.after["manta.0006.obj"]), (a + b) / 2, rtol=0, atol=1e-6)
    assert result.changed() == {"manta.0006.obj"}
    assert result.delivery.proof.clean


def uv_state(data: bytes) -> list[bytes]:
    return [line for line in data.splitlines() if line.startswith((b"vt ", b"f "))]


@pytest.mark.parametrize("mode", ["blend", "hold"])
@pytest.mark.parametrize(("before", "after"), [(bare, shifted), (shifted, bare), (beyond, bare), (bare, beyond)])
def test_damaged_uvs_of_the_neighbours_are_not_copied(
    tmp_path: Path, before: Callable[[Mesh], Mesh], after: Callable[[Mesh], Mesh], mode: str
) -> None:
    healthy = shot()
    files = shot({5: before, 7: after}) | {"manta.0006.obj": b""}
    result = fixed(tmp_path, files, "fill-frames", {"mode": mode})
    a, b = (positions(healthy[f"manta.000{number}.obj"]) for number in (5, 7))
    wanted = a if mode == "hold" else (a + b) / 2
    made = result.after["manta.0006.obj"]
    assert uv_state(made) == uv_state(healthy["manta.0006.obj"])
    assert np.allclose(positions(made), wanted, rtol=0, atol=1e-6)
    assert result.changed() == {"manta.0006.obj"}
    assert result.delivery.proof.new == ()
    how = "held from frame 5" if mode == "hold" else "50% of frame 5 and 50% of frame 7"
    assert result.step.preview[0].after == f"{how}; faces, UVs and materials from frame 4"


def test_the_neighbour_with_intact_uvs_gives_them(tmp_path: Path) -> None:
    """Frames 6 and 7 are missing. The nearer neighbour of frame 7 is frame 8, which has no UVs."""
    files = shot({8: bare}, numbers=[1, 2, 3, 4, 5, 8, 9, 10, 11, 12])
    step = plan_for(tmp_path, files, "fill-frames", frames=(7,)).steps[0]
    assert step.preview[0].after == "33% of frame 5 and 67% of frame 8; faces, UVs and materials from frame 5"


def test_uvs_that_move_are_those_of_the_nearer_neighbour(tmp_path: Path) -> None:
    whole = trembling(1e-3)
    files = {name: data for name, data in whole.items() if name not in ("manta.0007.obj", "manta.0008.obj")}
    result = fixed(tmp_path, files, "fill-frames", frames=(7, 8))
    for made, nearer in ((7, 6), (8, 9)):
        ours, theirs = (result.after[f"manta.000{number}.obj"] for number in (made, nearer))
        assert uv_state(ours) == uv_state(theirs)


def test_no_made_frame_of_the_demo_has_a_new_finding(tmp_path: Path) -> None:
    """Frames 4, 7, 10 and 19 to 23 are broken or missing (the demo's table), and some of their neighbours have damaged
    UVs."""
    files = {name.split("/", 1)[1]: data for name, data in demo_files().items() if name.startswith("manta_broken/")}
    result = fixed(tmp_path, files, "fill-frames", invent_at_most=8)
    assert result.step.frames == (4, 7, 10, *range(19, 24))
    assert result.delivery.proof.new == ()
    reference = read_frame(files["manta_broken.0001.obj"])
    for number in map(int, result.step.frames):
        made = read_frame(result.after[f"manta_broken.{number:04}.obj"])
        assert np.array_equal(made.uvs, reference.uvs)
        assert np.array_equal(made.corners.vt, reference.corners.vt)
        assert np.array_equal(made.corners.v, reference.corners.v)


def test_the_blend_touches_positions_alone_where_there_are_no_normals(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot() | {"manta.0006.obj": b""}, "fill-frames")
    before, made = (
        {block.keyword: data[block.start : block.stop] for block in read_frame(data).blocks}
        for data in (result.before["manta.0005.obj"], result.after["manta.0006.obj"])
    )
    assert {word for word in before if before[word] != made[word]} == {b"v"}


def test_normals_are_blended_by_corner_and_have_length_one() -> None:
    """Halfway between a normal and the same normal turned by 90 degrees is the normal turned by 45 degrees."""
    a = read_frame(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nf 1//1 2//1 3//1\n")
    b = read_frame(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 9 9 9\nvn 0 1 0\nf 1//2 2//2 3//2\n")
    half = blend([a, b], [0.5, 0.5])
    assert np.allclose(half.normals[half.corners.vn], [[0, 0.5**0.5, 0.5**0.5]] * 3)


def test_longer_normals_weigh_no_more() -> None:
    """In the last blend, the normals of one frame have the length 1e200, whose square is too large for float64."""
    a = read_frame(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nf 1//1 2//1 3//1\n")
    b = read_frame(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 1000 0\nf 1//1 2//1 3//1\n")
    half = blend([a, b], [0.5, 0.5])
    assert np.allclose(half.normals[half.corners.vn], [[0, 0.5**0.5, 0.5**0.5]] * 3)
    far = blend([a, b.replace(normals=b.normals * 1e197)], [0.5, 0.5])
    assert np.isfinite(far.normals).all()


def test_a_frame_without_positions_of_its_own_gives_the_faces() -> None:
    """The first frame has a weight of 0, so only its faces are used. The others are tori of sizes 2 and 3 without
    normals, so the result is a torus of size 2.5 with normals from the faces."""
    base, wanted = (read_frame(torus(12, 8, large=size).text()) for size in (7.0, 2.5))
    a, b = (
        read_frame(with_faces(mesh, lambda corner: (*corner[:2], -1)).edit(normals=np.empty((0, 3))).text())
        for mesh in (torus(12, 8, large=size) for size in (2.0, 3.0))
    )
    half = blend([base, a, b], [0.0, 0.5, 0.5])
    assert np.allclose(half.positions, wanted.positions, rtol=0, atol=2e-6)
    assert np.array_equal(half.corners.vt, base.corners.vt)
    ours, theirs = (one.normals[one.corners.vn] for one in (half, wanted))
    assert np.degrees(np.arccos(np.clip((ours * theirs).sum(axis=1), -1, 1))).max() < 1


def test_a_torus_blended_half_way_keeps_outward_normals() -> None:
    a, b = (read_frame(torus(12, 8, large=size).text()) for size in (2.0, 3.0))
    half = blend([a, b], [0.5, 0.5])
    assert np.allclose(np.linalg.norm(half.normals, axis=1), 1)
    assert np.allclose(half.positions, read_frame(torus(12, 8, large=2.5).text()).positions, rtol=0, atol=2e-6)


@pytest.mark.parametrize(
    ("files", "parameters", "frames", "reason"),
    [
        (shot(), {}, None, "no frame is missing"),
        (GAP, {"mode": "guess"}, None, "mode=guess is not one of hold, blend"),
        (shot(), {"mode": "blend"}, (13,), "frame 13 can't be blended: it has a neighbour on one side only"),
        (shot(), {}, tuple(range(3, 12)), "9 frames would be estimated from only 3"),
        (shot() | {"manta.6.obj": b"v 0 0"}, {}, (6,), "several files have the same frame number"),
        (
            GAP,
            {},
            None,
            r"3 of 13 frames .* default limits are a tenth of the frames \(2\) and 3 in a row; use --invent-at-most 3",
        ),
        (sets_of_poses(), {}, (6,), "the frames appear to be separate poses"),
    ],
)
def test_refusals(
    tmp_path: Path,
    files: dict[str, bytes],
    parameters: dict[str, object],
    frames: tuple[int, ...] | None,
    reason: str,
) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "fill-frames", parameters, frames)


def test_points_without_faces_are_blended(tmp_path: Path) -> None:
    cloud = {
        n: wing(n).edit(faces=(), uvs=np.empty((0, 2)), normals=wing(n).positions * 0 + [0, 0, 1.0]) for n in (1, 2, 4)
    }
    result = fixed(tmp_path, MATERIALS | frames(cloud), "fill-frames", {"mode": "blend"})
    made = read_frame(result.after["manta.0003.obj"])
    assert np.allclose(made.positions, (cloud[2].positions + cloud[4].positions) / 2, atol=1e-6)


def test_frames_that_are_chosen_need_no_further_statement(tmp_path: Path) -> None:
    plan = plan_for(tmp_path, GAP, "fill-frames", frames=(6, 8, 9))
    assert [step.frames for step in plan.steps] == [(6, 8, 9)]


@pytest.mark.parametrize(("most", "filled"), [(2, False), (3, True)])
def test_no_more_frames_are_made_up_than_were_stated(tmp_path: Path, most: int, filled: bool) -> None:
    inspection = look_at_all(tmp_path, GAP, invent_at_most=most)
    plan = make_plan(inspection, all_choices(inspection))
    assert [step.fix for step in plan.steps] == (["fill-frames"] if filled else [])
    reasons = [refused.reason for refused in plan.sequences[0].refused]
    assert reasons == (
        []
        if filled
        else [
            "3 of 13 frames would be estimates, 2 in a row, but the stated limit is 2; use --invent-at-most 3 to allow "
            "this"
        ]
    )


@pytest.mark.parametrize(("lost", "filled"), [(3, True), (4, False)])
def test_without_a_statement_three_frames_in_a_row_are_made_up(tmp_path: Path, lost: int, filled: bool) -> None:
    inspection = look_at_all(tmp_path, shot(numbers=[n for n in range(1, 45) if not 20 <= n < 20 + lost]))
    assert bool(make_plan(inspection, all_choices(inspection)).steps) is filled


@pytest.mark.parametrize(("bend", "poses"), [(POSES_BEND - 0.05, False), (POSES_BEND + 0.05, True)])
def test_poses_are_told_from_motion_by_how_far_they_are_off_the_middle(
    tmp_path: Path, bend: float, poses: bool
) -> None:
    files = sets_of_poses(bend)
    if not poses:
        assert plan_for(tmp_path, files, "fill-frames", frames=(6,)).steps
        return
    with pytest.raises(Refusal, match="separate poses"):
        plan_for(tmp_path, files, "fill-frames", frames=(6,))


def test_a_note_makes_up_no_frame(tmp_path: Path) -> None:
    """A motion that stops may be intended, so it is only reported as a note."""
    held = {number: wing(min(number, 8)) for number in range(1, 13)}
    inspection = look_at_all(tmp_path, MATERIALS | frames(held))
    assert {finding.severity.word for finding in inspection.inspections[0].findings} == {"note"}
    assert make_plan(inspection, all_choices(inspection)).steps == ()


def test_frames_that_are_passed_over_are_named(tmp_path: Path) -> None:
    files = shot({7: diagonal_turned}, numbers=[1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 12])
    step = plan_for(tmp_path, files, "fill-frames", frames=(6,)).steps[0]
    assert step.preview[0].after == "67% of frame 5 and 33% of frame 8 (frame 7 has different faces)"


def test_a_frame_that_is_passed_over_is_described_as_what_it_is(tmp_path: Path) -> None:
    files = shot(dict.fromkeys((7, 8), diagonal_turned), numbers=[n for n in range(1, 13) if n != 6])
    files["manta.0009.obj"] = files["manta.0009.obj"][:1000]
    step = plan_for(tmp_path, files, "fill-frames", frames=(6,)).steps[0]
    assert step.preview[0].after.endswith(" of frame 10 (frame 9 is not intact; frames 7, 8 have different faces)")


@pytest.mark.parametrize(("lost", "words"), [((6,), "frame 6 from its"), ((6, 8), "frames 6, 8 from their")])
def test_one_frame_has_its_neighbours_and_several_have_theirs(
    tmp_path: Path, lost: tuple[int, ...], words: str
) -> None:
    files = shot(numbers=[number for number in range(1, 13) if number not in lost])
    assert plan_for(tmp_path, files, "fill-frames").steps[0].summary == f"fill {words} neighbours"


def test_neighbours_are_taken_as_the_plan_leaves_them(tmp_path: Path) -> None:
    files = shot({7: diagonal_turned}, numbers=[1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 12])
    inspection = look_at_all(tmp_path / "in", files)
    plan = make_plan(inspection, all_choices(inspection))
    assert [step.frames for step in plan.steps] == [(7,), (6,)]
    assert plan.steps[1].preview[0].after == "50% of frame 5 and 50% of frame 7"
    deliver(plan, tmp_path / "out")
    made, a, b = (
        positions(path.read_bytes())
        for path in (tmp_path / "out/manta.0006.obj", *(tmp_path / f"in/manta.000{n}.obj" for n in (5, 7)))
    )
    assert np.allclose(made, (a + b) / 2, rtol=0, atol=1e-6)
