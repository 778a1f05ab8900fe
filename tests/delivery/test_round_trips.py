"""Tests of the fix that each check names: a second inspection shows that the planted defect is gone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.motion import TIP, circle, lifted
from tests.helpers.broken.placement import frond, laid_down, placed_at, with_point
from tests.helpers.broken.shape import backed, doubled
from tests.helpers.fixing import Fixed, fixed
from tests.helpers.meshes import ABSENT, Mesh, torus, wing, with_faces
from tests.helpers.sequences import Files, finding_of, look, shot
from tests.helpers.surfaces import lit, sequence


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
    "faces doubled": (all_of(doubled), "duplicate-faces", "drop-duplicate-faces"),
    "faces back to back": (all_of(backed), "coincident-faces", "drop-duplicate-faces"),
    "a loose vertex": (all_of(with_point), "unused-vertices", "drop-unused-vertices"),
    "normals turned round": (sequence(lit, {5: turned_round}), "reversed-normals", "flip-normals"),
    "long normals": (sequence(lit, {5: long_normals}), "normal-length", "unit-normals"),
    "normals of no length": (sequence(lit, {5: no_direction}), "normal-length", "recompute-normals"),
    "some faces without normals": (sequence(lit, {5: some_unlit}), "missing-normals", "recompute-normals"),
    "a part that pops": (shot({5: lifted(TIP)}), "pop", "fill-frames"),
    "a vertex that leaps": (shot({5: lifted([7])}), "spike", "fill-frames"),
    "a loop with its first frame again": (circle(range(17)), "loop", "trim-loop"),
    "no normals at all": (all_of(lambda mesh: mesh.edit(smooth="")), "missing-normals", "recompute-normals"),
}  # fmt: skip


@pytest.mark.parametrize("trip", TRIPS)
def test_what_the_check_names_answers_it(trip: str, tmp_path: Path) -> None:
    files, check, fix = TRIPS[trip]
    finding = finding_of(look(tmp_path / "look", files), check)
    assert fix in finding.fixes
    frames = tuple(map(int, finding.frames)) if fix == "fill-frames" else None
    result = fixed(tmp_path / "trip", files, fix, frames=frames)
    gone(result, check)


@pytest.mark.parametrize(
    ("files", "check", "fix", "parameters"),
    [
        (placed_at(1.5e6), "far-from-origin", "align", {"at": "centre"}),
        (sequence(lambda n: laid_down(frond(n))), "up-axis-suspect", "up-axis", {"to": "y"}),
    ],
)
def test_what_the_user_must_say_a_word_for(
    files: Files, check: str, fix: str, parameters: Mapping[str, object], tmp_path: Path
) -> None:
    assert fix in finding_of(look(tmp_path / "look", files), check).fixes
    gone(fixed(tmp_path / "trip", files, fix, parameters), check)


def gone(result: Fixed, check: str) -> None:
    (after,) = result.delivery.after.inspections
    assert [one.numbers["kind"] for one in after.findings if one.check == check] == (
        ["closed"] if check == "loop" else []
    )
    assert not result.delivery.proof.new


def test_single_faces_against_their_normals_are_not_mended_by_turning_all(tmp_path: Path) -> None:
    """Reversing all normals of the frame would spoil the eleven correct faces."""
    opposite = sequence(
        lambda n: with_faces(
            lit(n).edit(normals=np.concatenate([lit(n).normals, -lit(n).normals])), lambda corner: (*corner[:2], 1), [7]
        )
    )
    (finding,) = look(tmp_path, opposite).findings
    assert (finding.check, finding.fixes) == ("reversed-normals", ())


def test_smoothed_normals_turned_round_as_a_whole(tmp_path: Path) -> None:
    ring = torus(24, 12)
    result = fixed(tmp_path, sequence(lambda n: ring.edit(positions=ring.positions * n, normals=-ring.normals)),
                   "flip-normals")  # fmt: skip
    assert "reversed-normals" in {finding.check for _, finding in result.delivery.proof.gone}
    assert not result.delivery.proof.new
