"""Tests of `spike` and `pop`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.off_path import shaped, spread, stands_out
from inspector.checks.motion.spike import stray_vertices
from tests.helpers.broken.motion import DIAGONAL, TIP, UP, lifted
from tests.helpers.meshes import ABSENT, Mesh, plain, torus, wing, with_faces
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, frames, heard, look, shot
from tests.helpers.surfaces import EVERY, NUMBERS, Edit, ring, sequence, with_face


@pytest.mark.parametrize("way", [0.5, 5.0, 500.0])
@pytest.mark.parametrize("number", [2, 5, 11])
def test_one_vertex_leaps(number: int, way: float, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "spike", shot({number: lifted([7], way)}))
    assert said == [("spike", "warning", [float(number)])]
    finding = finding_of(inspection, "spike")
    assert finding.where[0].element == "vertex 8"
    lines = shot({number: lifted([7], way)})[f"manta.{number:04}.obj"].split(b"\n")
    assert lines[(finding.where[0].line or 0) - 1].startswith(b"v ")
    assert finding.numbers["distance"] == pytest.approx(way, abs=0.3)
    assert finding.fixes == ("fill-frames",)


def test_a_spike_of_three_frames(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot(dict.fromkeys([5, 6, 7], lifted([7], 5.0)))))
    assert said == [("spike", "warning", [5.0, 6.0, 7.0])]


@pytest.mark.parametrize("count", [1, 4, 30])
def test_how_many_vertices_leap(count: int, tmp_path: Path) -> None:
    """The displaced vertices form a strip. Their distances from each other stay the same; only their distances from the
    vertices around the strip change."""

    def ruffled(number: int) -> Mesh:
        mesh = torus(120, 60)
        positions = mesh.positions + np.array([0.0, 0.02 * number**2, 0.0])
        positions[60 : 60 + count] += 0.4 * (number == 6) * UP
        return mesh.edit(positions=positions)

    finding = finding_of(look(tmp_path, frames({n: ruffled(n) for n in NUMBERS})), "spike")
    assert finding.message.startswith(f"{count} of 7,200 vertices {'is' if count == 1 else 'are'} out of place")


@pytest.mark.parametrize(("times", "kind"), [(2.5, "leap"), (3.5, "home")])
def test_a_vertex_that_is_in_place_on_one_frame_alone(times: float, kind: str, tmp_path: Path) -> None:
    """On all other frames, the vertex's longest edge is `times` times as long as on frame 7. Above a factor of 3
    (SPIKE_HOME), these frames count as wrong, so frame 7 can't be replaced with a blend of them."""

    place = ring(0, 24, 12).positions
    sides = [{face[k - 1][0], face[k][0]} for face in ring(0, 24, 12).faces for k in range(4)]
    near = place[sorted(set().union(*(side for side in sides if 100 in side)))]

    def longest(way: float) -> float:
        return float(np.linalg.norm(near - place[100] - way * UP, axis=1).max())

    torn_by = next(way for way in np.arange(0.0, 9.0, 0.01) if longest(way) >= times * longest(0.0))

    def torn(number: int) -> Mesh:
        mesh = ring(number, 24, 12)
        positions = mesh.positions.copy()
        positions[100] += 0.0 if number == 7 else torn_by * UP
        return mesh.edit(positions=positions)

    finding = finding_of(look(tmp_path, sequence(torn)), "spike")
    assert [float(number) for number in finding.frames] == [7.0]
    assert finding.numbers["kind"] == kind
    assert finding.fixes == (("fill-frames",) if kind == "leap" else ())
    end = "diagonal)" if kind == "leap" else "on the frames before and after, not on this frame"
    assert finding.message.endswith(end)


def test_a_vertex_far_out_throughout(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "spike", sequence(lambda n: beside_ring(n, 500.0)), good=sequence(beside_ring))
    assert said == [("spike", "warning", EVERY)]
    finding = finding_of(inspection, "spike")
    assert (finding.numbers["kind"], finding.where[0].element) == ("stray", "vertex 291")


def beside_ring(number: int, third: float = 1.0) -> Mesh:
    """Return a ring and a separate triangle. `third` is the y coordinate of the triangle's third corner."""
    around = with_faces(ring(number, 24, 12), lambda corner: (*corner[:2], ABSENT)).edit(normals=np.empty((0, 3)))
    return with_face(around, [[4, 0, 0], [5, 0, 0], [4, third, 0]])


@pytest.mark.parametrize(("far", "count"), [([], 0), ([5], 1), ([5, 17], 2), ([5, 17, 99], 3), (list(range(4)), 0)])
def test_what_counts_as_stray(far: list[int], count: int) -> None:
    """At most a thousandth of the vertices (here, 3 of 3,000) can count as strays (STRAY_SHARE)."""
    positions = np.random.default_rng(2).uniform(-1, 1, (3000, 3))
    positions[far] += 1000.0
    assert len(stray_vertices(positions)[0]) == count


@pytest.mark.parametrize(("times", "count"), [(9.5, 0), (10.5, 1)])
def test_how_far_out_a_stray_is(times: float, count: int) -> None:
    """A stray is more than ten times as far from the middle as the farthest other vertex (SPIKE_FAR). A nearer vertex
    may belong to a fin or a hair."""
    positions = np.zeros((20, 3))
    positions[3, 0], positions[8, 1] = 1.0, times
    assert len(stray_vertices(positions)[0]) == count


@pytest.mark.parametrize("number", [2, 5, 11])
def test_a_part_pops(number: int, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "pop", shot({number: lifted(TIP)}))
    assert said == [("pop", "warning", [float(number)])]
    finding = finding_of(inspection, "pop")
    assert finding.numbers["kind"] == "part"
    assert finding.numbers["share"] == pytest.approx(0.2)
    assert finding.numbers["distance"] == pytest.approx(0.8, abs=0.1)
    assert finding.fixes == ("fill-frames",)


def test_a_part_that_widens_the_box_is_no_change_of_size(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot({5: lifted(TIP, 6.0)}))) == [("pop", "warning", [5.0])]


def test_two_pops_near_each_other(tmp_path: Path) -> None:
    files = shot({10: lifted(TIP), 14: lifted(TIP)}, numbers=range(1, 31))
    assert heard(look(tmp_path, files)) == [("pop", "warning", [10.0, 14.0])]


def test_the_object_as_a_whole_slips(tmp_path: Path) -> None:
    """The displacement is less than a tenth of the diagonal, so it is not a jump of the centre."""
    said = heard(look(tmp_path, sequence(slow, {5: lifted(slice(None), 0.3)})))
    assert said == [("pop", "warning", [5.0])]


def slow(number: int) -> Mesh:
    return wing(number / 10)


def test_a_part_of_many_vertices_seen_by_the_sample(tmp_path: Path) -> None:
    def with_pop(number: int, way: float = 0.0) -> Mesh:
        mesh = torus(120, 60)
        positions = mesh.positions + np.array([0, 0, 0.05 * number])
        positions[:360] += way * UP
        return mesh.edit(positions=positions)

    files = frames({n: with_pop(n, 0.5 * (n == 6)) for n in NUMBERS})
    assert [one for one in heard(look(tmp_path, files)) if one[1] != "note"] == [("pop", "warning", [6.0])]


def test_points_pop_too(tmp_path: Path) -> None:
    points = np.random.default_rng(4).normal(size=(200, 3))
    clouds = {n: plain(points + 0.02 * n + np.where(np.arange(200) < 60, 1.0 * (n == 7), 0)[:, None] * UP, [])
              for n in NUMBERS}  # fmt: skip
    assert ("pop", "warning", [7.0]) in heard(look(tmp_path, frames(clouds)))


def test_the_spread_is_the_scaled_median_absolute_deviation() -> None:
    """With the factor 1.4826, the spread of normally distributed noise equals the standard deviation of the noise
    (Rousseeuw and Croux 1993)."""
    noise = np.random.default_rng(1).normal(0.0, 0.3, (200_001, 1))
    assert spread(noise) == pytest.approx(0.3, rel=0.01)
    assert spread(np.array([[0.0], [1.0], [1.0], [2.0], [1000.0]])) == pytest.approx(1.4826)


def blink(number: int) -> Mesh:
    shut = {8: 0.5, 9: 1.0, 10: 1.0, 11: 1.0, 12: 0.5}.get(number, 0.0)
    return lifted(TIP, 0.5 * shut)(wing(0))


def snap(number: int) -> Mesh:
    return lifted(TIP, 0.5 * (9 <= number < 13))(wing(0))


def kick(number: int) -> Mesh:
    return lifted(TIP, 0.8 * abs(np.sin(0.5 * number)) * (number > 5))(wing(0))


@pytest.mark.parametrize("motion", [blink, snap, kick])
def test_healthy_parts(motion: Callable[[int], Mesh], tmp_path: Path) -> None:
    files = MATERIALS | frames({n: motion(n) for n in range(1, 25)})
    assert [one for one in heard(look(tmp_path, files)) if one[1] != "note"] == []


@pytest.mark.parametrize(("diagonals", "found"), [(0.018, False), (0.022, True)])
def test_from_which_distance_a_slip_is_a_pop(diagonals: float, found: bool, tmp_path: Path) -> None:
    diagonal = float(np.linalg.norm(np.ptp(wing(0).positions, axis=0)))
    said = heard(look(tmp_path, sequence(slow, {6: lifted(slice(None), diagonals * diagonal)})))
    assert said == [("pop", "warning", [6.0])] * found


@pytest.mark.parametrize(
    ("usual", "pace", "way", "found"),
    [(0.0, 1.0, 1.4, False), (0.0, 1.0, 1.6, True), (1.0, 0.1, 8.7, False), (1.0, 0.1, 9.1, True)],
)
def test_what_stands_out(usual: float, pace: float, way: float, found: bool) -> None:
    """A vertex stands out if its distance from its path is more than 1.5 median steps (POP_OF_SPEED) and more than six
    spreads (POP_SPREADS). A spread is 1.4826 times the vertex's median distance from its path."""
    ways = np.full((15, 1), usual)
    ways[7] = way
    assert stands_out(ways, np.full((14, 1), pace), 7).tolist() == [found]


@pytest.mark.parametrize(("rest", "found"), [(0.24, True), (0.26, False)])
@pytest.mark.parametrize("beside", [-1, 1])
def test_the_shape_of_a_pop(rest: float, found: bool, beside: int) -> None:
    """A pop has offsets in the ratio -0.5 : 1 : -0.5 in three frames. `rest` is an additional offset in the first or
    the last of these frames. The additional offset may be up to 0.25 times the middle offset (POP_SHAPE)."""
    off = np.zeros((7, 1, 3))
    off[2:5, 0, 0] = -0.5, 1.0, -0.5
    off[3 + beside, 0, 1] = rest
    assert bool(shaped(off, np.linalg.norm(off, axis=2))[3, 0]) is found


def sheared(size: float, shift: float = 0.0) -> Edit:
    """Return an edit that moves each vertex along x in proportion to its height z, and then shifts the ring.

    `size` is the root mean square of the shear, and `shift` is the length of the shift, both in diagonals.
    """

    def edit(mesh: Mesh) -> Mesh:
        height = mesh.positions[:, 2] - mesh.positions[:, 2].mean()
        off = np.outer(height / np.sqrt(np.square(height).mean()), [size, 0.0, 0.0]) + shift * UP
        return mesh.edit(positions=mesh.positions + DIAGONAL * off)

    return edit


def fast(number: int) -> Mesh:
    """Return a frame of a ring with an additional motion of 0.1 diagonals per frame, which counts as a usual step."""
    return ring(number).edit(positions=ring(number).positions + np.array([0.0, 0.0, 0.1 * DIAGONAL * number]))


@pytest.mark.parametrize(
    ("share", "of", "kind"),
    [(0.09, ring, "whole"), (0.11, ring, "part"), (0.09, fast, "slip"), (0.11, fast, "surface")],
)
def test_how_much_may_be_left_of_a_shift(share: float, of: Callable[[int], Mesh], kind: str, tmp_path: Path) -> None:
    """The ring is sheared and shifted by 0.05 diagonals (root mean square). `share` is the shear's fraction of the
    squared displacement. This fraction may be up to 0.1 (WHOLE_SHARE)."""
    edit = sheared(0.05 * share**0.5, 0.05 * (1.0 - share) ** 0.5)
    inspection = look(tmp_path, sequence(of, {6: edit}))
    assert heard(inspection) == [("pop", "warning", [6.0])]
    assert finding_of(inspection, "pop").numbers["kind"] == kind


@pytest.mark.parametrize(("diagonals", "found"), [(0.0028, False), (0.0032, True)])
def test_how_far_the_whole_surface_may_be_off(diagonals: float, found: bool, tmp_path: Path) -> None:
    """The ring moves evenly, so a sheared frame is off its path by exactly the shear. The limit is 0.003 diagonals
    (SURFACE_OFF)."""
    inspection = look(tmp_path, sequence(ring, {6: sheared(diagonals)}))
    assert heard(inspection) == [("pop", "warning", [6.0])] * found
    if found:
        numbers = finding_of(inspection, "pop").numbers
        assert numbers["kind"] == "surface"
        assert numbers["diagonals"] == pytest.approx(diagonals, rel=0.001)


def scattered(size: float) -> Edit:
    def edit(mesh: Mesh) -> Mesh:
        low, high = mesh.positions.min(axis=0), mesh.positions.max(axis=0)
        chance = np.random.default_rng(3)
        moved = mesh.positions + size * (high - low) * chance.uniform(-1, 1, mesh.positions.shape)
        return mesh.edit(positions=np.clip(moved, low, high))

    return edit


def swaying(number: int) -> Mesh:
    mesh = torus(24, 12)
    return mesh.edit(positions=mesh.positions * [1.0, 1.0, 1.0 + 0.1 * np.sin(number / 4)])


@pytest.mark.parametrize("odd", [[1], [12], list(range(9, 13))], ids=str)
def test_scattered_vertices_at_an_end(odd: list[int], tmp_path: Path) -> None:
    """The frames with scattered vertices are at an end of the sequence, with good frames on only one side. Therefore,
    the paths of their vertices can't be judged. However, the edges at scattered vertices are far longer than the edges
    in good frames."""
    inspection = look(tmp_path, sequence(swaying, dict.fromkeys(odd, scattered(0.3))))
    assert [one for one in heard(inspection) if one[1] != "note"] == [("pop", "warning", [float(one) for one in odd])]
    finding = finding_of(inspection, "pop")
    assert finding.numbers["kind"] == "torn"
    assert finding.fixes == ("fill-frames",)


@pytest.mark.parametrize(("size", "found"), [(0.09, False), (0.12, True)])
def test_how_much_longer_the_edges_are(size: float, found: bool, tmp_path: Path) -> None:
    files = sequence(swaying, {12: scattered(size)})
    before, after = (
        float(np.mean([np.linalg.norm(mesh.positions[a[0]] - mesh.positions[b[0]]) for a, b, *_ in mesh.faces]))
        for mesh in (swaying(11), scattered(size)(swaying(12)))
    )
    assert (after > 1.5 * before) == found
    said = [one for one in heard(look(tmp_path, files)) if one[0] == "pop"]
    assert said == [("pop", "warning", [12.0])] * found


def test_noise_with_a_few_far_vertices_is_no_spike(tmp_path: Path) -> None:
    """The displacements have Student's t-distribution with three degrees of freedom, which has long tails."""

    def dense(number: int) -> Mesh:
        mesh = torus(120, 60)
        return mesh.edit(positions=mesh.positions * [1.0, 1.0, 1.0 + 0.1 * np.sin(number / 4)])

    def noisy(mesh: Mesh) -> Mesh:
        far = 0.2 * np.random.default_rng(1).standard_t(3, mesh.positions.shape)
        return mesh.edit(positions=mesh.positions + np.clip(far, -3.0, 3.0))

    inspection = look(tmp_path, sequence(dense, {6: noisy}))
    assert [one for one in heard(inspection) if one[1] != "note"] == [("pop", "warning", [6.0])]


def test_edges_that_are_far_shorter_than_on_most_frames(tmp_path: Path) -> None:
    def crumpled(mesh: Mesh) -> Mesh:
        positions = mesh.positions.copy()
        inside = np.abs(positions).max(axis=1) < 2.6
        positions[inside] *= 0.2
        return mesh.edit(positions=positions)

    inspection = look(tmp_path, sequence(swaying, dict.fromkeys([11, 12], crumpled)))
    finding = finding_of(inspection, "pop")
    assert (finding.frames, finding.numbers["kind"]) == ((11, 12), "torn")
    assert float(finding.numbers["ratio"]) < 1.0
