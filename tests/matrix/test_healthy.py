"""Tests of healthy bodies: unchanged, held, looped, retimed and rescaled."""

from __future__ import annotations

import pytest

from tests.helpers.bodies import BODIES, FORMS, REPORT_SEEDS, TUNING_SEEDS, Body
from tests.helpers.verdicts import errors_and_warnings, not_right_today

OTHER_FORMS = [form for form in FORMS if form != "as it is"]
TWO_FORMS_EACH = [
    pytest.param(body, form, id=f"{body.name}-{form}")
    for number, body in enumerate(BODIES)
    for form in ("as it is", OTHER_FORMS[number % len(OTHER_FORMS)])
]


def judge(body: Body, form: str, seed: int) -> None:
    said = errors_and_warnings(FORMS[form](body.film(seed, seed)))
    heard = [(one.check, one.severity, sorted(one.frames), one.message) for one in said]
    if seed in not_right_today()["healthy"].get(form, {}).get(body.name, []):
        assert heard, f"silent now (seed {seed}): remove it from not_right_today.toml"
    else:
        assert heard == [], seed


@pytest.mark.parametrize(("body", "form"), TWO_FORMS_EACH)
def test_a_healthy_form(body: Body, form: str) -> None:
    judge(body, form, TUNING_SEEDS[0])


@pytest.mark.matrix
@pytest.mark.parametrize("seed", TUNING_SEEDS + REPORT_SEEDS)
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("body", BODIES, ids=lambda body: body.name)
def test_every_healthy_form(body: Body, form: str, seed: int) -> None:
    judge(body, form, seed)
