"""A fault broken in, answered by the fix that its check names, inspected again: gone, and nothing new came."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytest

from tests.checks.surfaces import lit, sequence
from tests.checks.test_faces_twice import backed, doubled
from tests.checks.test_points import with_point
from tests.helpers.fixing import fixed
from tests.helpers.meshes import ABSENT, Mesh, torus, wing, with_faces
from tests.helpers.sequences import Files, heard, look


def turned_round(mesh: Mesh) -> Mesh:
    return mesh.edit(normals=-mesh.normals)


def long_normals(mesh: Mesh) -> Mesh:
    return mesh.edit(normals=mesh.normals * 2)


def no_direction(mesh: Mesh) -> Mesh:
    return mesh.edit(normals=mesh.normals * 0)


def some_unlit(mesh: Mesh) -> Mesh:
    return with_faces(mesh, lambda corner: (*corner[:2], ABSENT), [3, 4])


def all_of(edit: Callable[[Mesh], Mesh], of: Callable[[int], Mesh] = wing) -> Files:
    return sequence(lambda n: edit(of(n)))


TRIPS: Mapping[str, tuple[Files, str, str]] = {
    "faces doubled": (all_of(doubled), "doubled-faces", "drop-duplicates"),
    "faces back to back": (all_of(backed), "backed-faces", "drop-duplicates"),
    "a loose vertex": (all_of(with_point), "unused-vertices", "drop-loose"),
    "normals turned round": (sequence(lit, {5: turned_round}), "normals-against", "flip-normals"),
    "long normals": (sequence(lit, {5: long_normals}), "normal-length", "unit-normals"),
    "normals of no length": (sequence(lit, {5: no_direction}), "normal-length", "recompute-normals"),
    "some faces without normals": (sequence(lit, {5: some_unlit}), "missing-normals", "recompute-normals"),
    "no normals at all": (all_of(lambda mesh: mesh.edit(smooth="")), "missing-normals", "recompute-normals"),
}  # fmt: skip


@pytest.mark.parametrize("trip", TRIPS)
def test_what_the_check_names_answers_it(trip: str, tmp_path: Path) -> None:
    files, check, fix = TRIPS[trip]
    (finding,) = (one for one in look(tmp_path / "look", files).findings if one.check == check)
    assert fix in finding.fixes
    result = fixed(tmp_path / "trip", files, fix)
    (after,) = result.delivery.after.inspections
    assert check not in {one for one, _, _ in heard(after)}
    assert not result.delivery.proof.new


def test_single_faces_against_their_normals_are_not_mended_by_turning_all(tmp_path: Path) -> None:
    """Turning the frame's normals round would spoil the eleven faces that are right."""
    opposite = sequence(
        lambda n: with_faces(
            lit(n).edit(normals=np.concatenate([lit(n).normals, -lit(n).normals])), lambda corner: (*corner[:2], 1), [7]
        )
    )
    (finding,) = look(tmp_path, opposite).findings
    assert (finding.check, finding.fixes) == ("normals-against", ())


def test_smoothed_normals_turned_round_as_a_whole(tmp_path: Path) -> None:
    """On a ring, with one normal a vertex."""
    ring = torus(24, 12)
    result = fixed(tmp_path, sequence(lambda n: ring.edit(positions=ring.positions * n, normals=-ring.normals)),
                   "flip-normals")  # fmt: skip
    assert "normals-against" in {finding.check for _, finding in result.delivery.proof.gone}
    assert not result.delivery.proof.new
