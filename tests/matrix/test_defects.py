"""Tests of planted defects: the right check reports each defect on the right frames, and nothing else is reported.

By default, each defect is planted in one body. `pytest -m matrix` plants it in every body that it fits, once per seed.
not_right_today.toml lists the results that are still wrong. A test fails if a listed result is right, so the list can
only become shorter.
"""

from __future__ import annotations

import pytest

from inspector.checks.base.registry import all_checks
from tests.helpers.bodies import BODIES, REPORT_SEEDS, TUNING_SEEDS, Body
from tests.helpers.causes import CAUSES
from tests.helpers.mutations import MUTATIONS, Mutation
from tests.helpers.verdicts import Outcome, not_right_today, verdict_on


def fitting(mutation: Mutation) -> list[Body]:
    return [body for body in BODIES if mutation.fits(body)]


ONE_BODY_EACH = [
    pytest.param(mutation, bodies[number % len(bodies)], id=f"{mutation.name}-{bodies[number % len(bodies)].name}")
    for number, mutation in enumerate(MUTATIONS)
    for bodies in [fitting(mutation)]
]
ALL = [
    pytest.param(mutation, body, id=f"{mutation.name}-{body.name}")
    for mutation in MUTATIONS
    for body in fitting(mutation)
]


def judge(mutation: Mutation, body: Body, seed: int) -> None:
    outcome, said = verdict_on(mutation, body, seed)
    listed = seed in not_right_today()["defects"].get(mutation.name, {}).get(body.name, [])
    heard = [(one.check, one.severity, sorted(one.frames)) for one in said]
    if listed:
        assert outcome is not Outcome.FOUND, f"found now (seed {seed}): remove it from not_right_today.toml"
    else:
        assert outcome is Outcome.FOUND, (outcome, seed, heard)


@pytest.mark.parametrize(("mutation", "body"), ONE_BODY_EACH)
def test_a_defect(mutation: Mutation, body: Body) -> None:
    judge(mutation, body, TUNING_SEEDS[0])


@pytest.mark.matrix
@pytest.mark.parametrize("seed", TUNING_SEEDS + REPORT_SEEDS)
@pytest.mark.parametrize(("mutation", "body"), ALL)
def test_every_defect_on_every_body(mutation: Mutation, body: Body, seed: int) -> None:
    judge(mutation, body, seed)


def test_the_table_of_causes_names_checks_that_exist() -> None:
    assert set().union(*CAUSES.values()) <= {check.id for check in all_checks()}
    assert {cause for mutation in MUTATIONS for cause in mutation.causes} <= CAUSES.keys()


def test_the_matrix_is_large_enough_and_its_seeds_are_disjoint() -> None:
    assert len({mutation.name for mutation in MUTATIONS}) == len(MUTATIONS) >= 30
    assert len({body.name for body in BODIES}) == len(BODIES) >= 12
    assert not set(TUNING_SEEDS) & set(REPORT_SEEDS)


def test_the_list_of_what_is_not_right_names_cells_that_exist() -> None:
    cells = {(mutation.name, body.name) for mutation in MUTATIONS for body in fitting(mutation)}
    for kind, bodies in not_right_today()["defects"].items():
        for body, seeds in bodies.items():
            assert (kind, body) in cells
            assert set(seeds) <= set(TUNING_SEEDS + REPORT_SEEDS)
