"""Tests of how a different vertex order is distinguished from damage."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache

import numpy as np
import pytest

from inspector.arrays import Flags, Floats, Indices
from inspector.checks.base.renumbered import changed_places
from inspector.demo.kelp import sway
from inspector.demo.quad_mesh import QuadMesh
from inspector.demo.swim import swim
from tests.helpers.bodies import BODIES, Take, written
from tests.helpers.meshes import Mesh, grid_faces, plain, sphere
from tests.helpers.sequences import frames
from tests.helpers.verdicts import Said, errors_and_warnings

Random = np.random.Generator
Order = Callable[[int, Random], Indices]
Damage = Callable[[Floats, Floats, Random], Floats]
"""Function that returns the damaged positions of a part, (m, 3). Its arguments are the positions of the part, the
positions of the part six frames later, and the random number generator."""

CHANCE = 4
"""Seed of the random numbers."""
AT = 7
"""Index of the frame that is changed."""


def quads(mesh: QuadMesh) -> Mesh:
    return plain(mesh.positions, mesh.v.tolist())


def creature(time: float) -> Mesh:
    body = sphere(8, 10)
    parts, faces = [body.positions * [1.6, 0.6, 0.6]], [[v for v, _, _ in face] for face in body.faces]
    along, around = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 1.5, 10), np.arange(6.0), indexing="ij"))
    tube = np.stack([0.15 * np.cos(np.pi / 3 * around), -along, 0.13 * np.sin(np.pi / 3 * around)], axis=1)
    for leg, place in enumerate([(-1, -0.4, -0.4), (-1, -0.4, 0.4), (1, -0.4, -0.4), (1, -0.4, 0.4)]):
        angle = np.radians(50) * np.sin(np.pi * time / 6 + 1.3 * leg)
        turned = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
        first = sum(map(len, parts))
        faces += [[first + v for v in face] for face in grid_faces(10, 6)]
        parts.append(tube @ turned.T + place)
    return plain(np.concatenate(parts) + np.array([0.03 * time, 0.0, 0.0]), faces)


TAKES: dict[str, Callable[[], Take]] = {
    **{body.name: lambda body=body: body.film(1, 1) for body in BODIES if body.name in ("smooth", "fast", "captured")},
    "kelp": lambda: Take(lambda time: quads(sway(1 + int(time))), 12),
    "still kelp": lambda: Take(lambda _: quads(sway(1)), 12),
    "manta": lambda: Take(lambda time: quads(swim(1 + int(time), "manta")), 24),
    "creature": lambda: Take(creature, 24),
}


@lru_cache(maxsize=len(TAKES))
def filmed(name: str) -> tuple[Mesh, ...]:
    take = TAKES[name]()
    return tuple(take.at(float(time)) for time in range(take.frames))


def said_of(name: str, changed: Iterable[int], change: Callable[[int], Floats]) -> list[tuple[str, str, list[float]]]:
    meshes = list(filmed(name))
    for index in changed:
        meshes[index] = meshes[index].edit(positions=change(index))
    said: tuple[Said, ...] = errors_and_warnings(written(TAKES[name](), meshes))
    return [(one.check, one.severity, sorted(one.frames)) for one in said]


def numbers(indices: Iterable[int]) -> list[float]:
    return [float(index + 1) for index in indices]


# --- A different order ---


def two_swapped(count: int, chance: Random) -> Indices:
    order = np.arange(count)
    one, other = chance.choice(count, 2, replace=False)
    order[[one, other]] = other, one
    return order


def some_shuffled(count: int, chance: Random) -> Indices:
    order, some = np.arange(count), chance.choice(count, count // 20, replace=False)
    order[some] = chance.permutation(some)
    return order


ORDERS: dict[str, Order] = {
    "two vertices swapped": two_swapped,
    "one in twenty shuffled": some_shuffled,
    "all shuffled": lambda count, chance: chance.permutation(count),
    "reversed": lambda count, _: np.arange(count)[::-1],
    "the last third first": lambda count, _: np.roll(np.arange(count), count // 3),
    "the first vertex last": lambda count, _: np.roll(np.arange(count), -1),
}

PLACES: dict[str, Callable[[int], range]] = {
    "first": lambda _: range(1),
    "last": lambda count: range(count - 1, count),
    "three": lambda _: range(5, 8),
    "from the middle on": lambda count: range(count // 2, count),
}


@pytest.mark.parametrize(
    ("take", "order"),
    # The legs of the creature miss their predicted positions by more than the distance between neighbours.
    [(take, order) for take in TAKES for order in ORDERS if (take, order) != ("creature", "the first vertex last")],
)
def test_one_frame_in_a_different_order(take: str, order: str) -> None:
    positions = filmed(take)[AT].positions
    other = ORDERS[order](len(positions), np.random.default_rng(1))
    assert said_of(take, [AT], lambda _: positions[other]) == [("vertex-order", "error", numbers([AT]))]


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("order", ["two vertices swapped", "all shuffled", "reversed", "the last third first"])
def test_frames_in_a_different_order(order: str, place: str) -> None:
    changed = PLACES[place](len(filmed("smooth")))
    other = ORDERS[order](len(filmed("smooth")[0].positions), np.random.default_rng(1))
    said = said_of("smooth", changed, lambda index: filmed("smooth")[index].positions[other])
    assert said == [("vertex-order", "error", numbers(changed))]


def test_each_of_five_frames_in_an_order_of_its_own() -> None:
    def own(index: int) -> Floats:
        return np.random.default_rng(index).permutation(filmed("smooth")[index].positions)

    assert said_of("smooth", range(5, 10), own) == [("vertex-order", "error", numbers(range(5, 10)))]


# --- Damage ---


def nearest_third(positions: Floats, chance: Random) -> Flags:
    away = np.linalg.norm(positions - positions[chance.integers(len(positions))], axis=1)
    return away <= np.quantile(away, 1 / 3)


def scattered_third(positions: Floats, chance: Random) -> Flags:
    return chance.permutation(len(positions)) < len(positions) / 3


def whole(positions: Floats, _: Random) -> Flags:
    return np.ones(len(positions), bool)


PARTS = {"a third": nearest_third, "a scattered third": scattered_third, "all": whole}


def size_of(points: Floats) -> float:
    return float(np.linalg.norm(np.ptp(points, axis=0)))


def unit(chance: Random) -> Floats:
    way = chance.normal(size=3)
    return np.asarray(way / np.linalg.norm(way))


def half_turned(points: Floats, _: Floats, chance: Random) -> Floats:
    """Rotate the points by half a turn about an axis through the first point."""
    axis, rays = unit(chance), points - points[0]
    return points[0] + 2 * np.outer(rays @ axis, axis) - rays


def mirrored(points: Floats, _: Floats, chance: Random) -> Floats:
    middle, axis = points.mean(axis=0), unit(chance)
    return points - 2 * np.outer((points - middle) @ axis, axis)


DAMAGES: dict[str, Damage] = {
    "displaced": lambda points, _, chance: points + 0.3 * size_of(points) * unit(chance),
    "doubled in size": lambda points, *_: points.mean(axis=0) + 2 * (points - points.mean(axis=0)),
    "turned inside out": lambda points, *_: points.mean(axis=0) - 0.7 * (points - points.mean(axis=0)),
    "in another pose": lambda _, later, __: later,
    "noisy": lambda points, _, chance: points + chance.normal(0, 0.1 * size_of(points), points.shape),
    "mirrored": mirrored,
    "flipped": half_turned,
    "collapsed": lambda points, *_: np.repeat(points.mean(axis=0, keepdims=True), len(points), axis=0),
    "anywhere": lambda points, _, chance: chance.uniform(points.min(axis=0), points.max(axis=0), points.shape),
}


@pytest.mark.parametrize("damage", DAMAGES)
@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("take", ["smooth", "fast", "kelp", "creature"])
def test_damage_is_reported_but_not_as_a_different_order(take: str, part: str, damage: str) -> None:
    meshes, chance = filmed(take), np.random.default_rng(CHANCE)
    positions = meshes[AT].positions.copy()
    chosen = PARTS[part](positions, chance)
    later = meshes[min(AT + 6, len(meshes) - 1)].positions
    positions[chosen] = DAMAGES[damage](positions[chosen], later[chosen], chance)
    said = said_of(take, [AT], lambda _: positions)
    assert said
    assert all(numbered == numbers([AT]) and check != "vertex-order" for check, _, numbered in said), said


@pytest.mark.parametrize("place", PLACES)
def test_scattered_frames(place: str) -> None:
    changed, chance = PLACES[place](len(filmed("smooth"))), np.random.default_rng(CHANCE)

    def scattered(index: int) -> Floats:
        points = filmed("smooth")[index].positions
        return DAMAGES["anywhere"](points, points, chance)

    said = said_of("smooth", changed, scattered)
    assert {number for _, _, numbered in said for number in numbered} == set(numbers(changed))
    assert "vertex-order" not in {check for check, *_ in said}


def test_a_violent_motion_is_healthy() -> None:
    assert said_of("creature", [], lambda _: np.empty((0, 3))) == []


# --- Thresholds ---


def far_apart(count: int, distance: float = 1.0) -> Floats:
    x = distance * np.cumsum(1.0 + np.arange(count) % 7 / 5.0)
    return np.stack([x, np.zeros(count), np.zeros(count)], axis=1)


NEAR = 0.05


@pytest.mark.parametrize(("distance", "found"), [(2.9, False), (3.1, True)])
def test_how_far_a_vertex_is_moved(distance: float, found: bool) -> None:
    """Two vertices change places. The distance between them is 2.9 or 3.1 times NEAR. A vertex counts as moved if it is
    more than 3 times NEAR away from its expected position (ORDER_APART)."""
    expected = far_apart(12)
    expected[1] = expected[0] + [0.0, distance * NEAR, 0.0]
    change = changed_places(expected, expected[[1, 0, *range(2, 12)]], NEAR)
    assert (change is not None) == found
    assert change is None or (change.vertices, change.vertex) == (2, 0)


@pytest.mark.parametrize(("displaced", "found"), [(2, True), (3, False)])
def test_how_many_moved_vertices_are_where_another_is_expected(displaced: int, found: bool) -> None:
    """Twenty vertices are moved, 18 or 17 of them to the expected position of another vertex. At least 18 of the 20
    vertices, a share of 0.9 (ORDER_SHARE), must be at such a position."""
    expected = far_apart(20)
    here = np.roll(expected, 7, axis=0)
    here[:displaced] += [0.0, 0.7, 0.0]
    assert (changed_places(expected, here, NEAR) is not None) == found


@pytest.mark.parametrize(("places", "found"), [(12, True), (11, False)])
def test_how_many_positions_the_moved_vertices_take(places: int, found: bool) -> None:
    """Twenty moved vertices take twelve or eleven different positions. They must take at least 0.6 times twenty, that
    is, twelve positions (ORDER_ONCE)."""
    expected = far_apart(20)
    here = expected[[(at + 7) % places if (at + 7) % places != at else (at + 8) % places for at in range(20)]]
    assert (changed_places(expected, here, NEAR) is not None) == found


@pytest.mark.parametrize(("share", "found"), [(0.019, True), (0.021, False)])
def test_how_near_to_the_distance_moved(share: float, found: bool) -> None:
    """Two vertices change places, but miss each other's positions by 1.9 % or 2.1 % of the distance between them. Up to
    2 % is allowed (ORDER_EXACT)."""
    expected = far_apart(12)
    distance = float(np.linalg.norm(expected[1] - expected[0]))
    here = expected[[1, 0, *range(2, 12)]]
    here[:2] += [0.0, share * distance, 0.0]
    assert (changed_places(expected, here, 1e-6) is not None) == found


@pytest.mark.parametrize("miss", [0.0, 0.9, 1.1])
def test_a_turn_or_a_reflection_is_no_different_order(miss: float) -> None:
    """A quarter turn or a reflection of a cross moves each point of the cross to the position of another point."""
    arms = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, -1.0, 0.0]])
    expected = np.concatenate([arms, 2.0 * arms])
    turned = expected @ np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    assert changed_places(expected, turned + miss * NEAR / 2, NEAR) is None
    assert changed_places(expected, expected[[2, 1, 0, 3, 6, 5, 4, 7]], NEAR) is None  # the reflection at an axis
    assert changed_places(expected, expected[[1, 0, 3, 2, 5, 4, 7, 6]], NEAR) is None  # and at a diagonal
    assert changed_places(expected, expected[[5, 0, 3, 2, 1, 4, 7, 6]], NEAR) is not None


@pytest.mark.parametrize(("miss", "found"), [(7.8, True), (8.2, False)])
def test_how_much_farther_than_usual_vertices_may_miss(miss: float, found: bool) -> None:
    """Each vertex moves by two amplitudes per frame, in alternating directions. An extrapolation from two frames
    therefore usually misses by four amplitudes. On the shuffled frame, it misses by `miss` + 2 amplitudes. The limit is
    2.5 times the usual distance, that is, ten amplitudes (ORDER_NEAR)."""
    amplitude, rows = 0.02, 8
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(float(rows)), np.arange(float(rows)), indexing="ij"))
    side = np.where((x + y) % 2 == 0, 1.0, -1.0)

    def sheet(number: int) -> Mesh:
        before = -1.0 if number % 2 else 1.0
        height = amplitude * side * (1.0 - miss if number == 7 else before)
        points = np.stack([x, y, height], axis=1)
        return plain(np.random.default_rng(3).permutation(points) if number == 7 else points, grid_faces(rows, rows))

    said = errors_and_warnings(frames({number: sheet(number) for number in range(1, 15)}))
    assert ("vertex-order" in {one.check for one in said}) == found
