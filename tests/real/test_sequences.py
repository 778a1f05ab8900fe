"""Tests of the findings in sequences from outside the project. Run by hand: `MESHQC_REAL=FOLDER pytest -m real`.

Neither the sequences nor their names are part of the project. Their folder has an `expected.toml` (see
tests/helpers/real.py).
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from inspector import inspect
from inspector.inspection.inspection import FolderInspection, Inspection
from tests.helpers.real import VARIABLE, Expectation, RealSequence, real_folder, real_sequences

pytestmark = [
    pytest.mark.real,
    pytest.mark.skipif(real_folder() is None, reason=f"{VARIABLE} doesn't name a folder with real sequences"),
]

EVERY = pytest.mark.parametrize("sequence", real_sequences() or [None], ids=lambda one: one.name if one else "none")
_SEVERITIES = ("warning", "error")


@lru_cache(maxsize=2)
def inspected(folder: Path) -> FolderInspection:
    return inspect(folder)


def own(sequence: RealSequence) -> Inspection:
    inspections = inspected(sequence.folder).inspections
    (inspection,) = (one for one in inspections if sequence.pattern in ("", one.sequence.pattern.text))
    return inspection


@EVERY
def test_facts(sequence: RealSequence) -> None:
    """The expected numbers were counted independently of this package."""
    if not sequence.frames:
        assert not inspected(sequence.folder).inspections
        return
    facts = own(sequence).series.facts
    assert len(facts) == sequence.frames
    assert (min(one.vertices for one in facts), max(one.vertices for one in facts)) == sequence.vertices
    assert (min(one.faces for one in facts), max(one.faces for one in facts)) == sequence.faces


@EVERY
def test_what_must_be_said_is_said(sequence: RealSequence) -> None:
    findings = own(sequence).findings if sequence.frames else ()
    missed = []
    for must in sequence.must:
        said = [one for one in findings if one.check in must.checks and _at_least(one.severity.word, must.severity)]
        frames = {float(number) for one in said for number in one.frames}
        if not said or (must.frames is not None and frames != must.frames):
            missed.append((must.cause, must.severity, sorted(frames)))
    assert missed == []


@EVERY
def test_nothing_else_is_said(sequence: RealSequence) -> None:
    findings = own(sequence).findings if sequence.frames else ()
    false = [
        (one.check, one.severity.word, one.message)
        for one in findings
        if one.severity.word in _SEVERITIES
        and not any(_allows(expectation, one.check, one.severity.word) for expectation in sequence.must + sequence.may)
    ]
    assert false == []


def _allows(expectation: Expectation, check: str, severity: str) -> bool:
    return check in expectation.checks and _at_least(expectation.severity, severity)


def _at_least(severity: str, least: str) -> bool:
    return severity in _SEVERITIES and _SEVERITIES.index(severity) >= _SEVERITIES.index(least)
