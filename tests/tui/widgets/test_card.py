"""Tests of cards that list only some of a finding's locations."""

from __future__ import annotations

from dataclasses import replace

import pytest

from inspector.checks.base.finding import Severity, Where
from inspector.limits import PLACES_KEPT
from inspector.names import Name
from inspector.report.text_style import TextStyle
from inspector.tui.widgets.card import finding_card
from tests.helpers.tui.world import finding, inspected, sequence, view_of


@pytest.mark.parametrize(("places", "said"), [(PLACES_KEPT - 1, False), (PLACES_KEPT, True)])
def test_places_that_may_be_the_first_of_many_are_called_so(places: int, said: bool) -> None:
    found = finding("uv-mismatch", Severity.ERROR, *range(1, 8))
    where = tuple(Where(Name(b"manta.%04d.obj" % number), 12) for number in range(1, places + 1))
    view = view_of(inspected(sequence(b"manta", range(1, 13)), [replace(found, where=where)]))
    lines = finding_card(view, 0, []).text(TextStyle(80)).plain.splitlines()
    assert sum(line.startswith("at ") for line in lines) == places
    assert ("(at most 5 locations are listed)" in lines) == said
