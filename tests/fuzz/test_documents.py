"""Tests of documents that this program writes or reads, each changed in one place. The inserted values are our own
choice (no source)."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from inspector.delivery.audit import audit, read_receipt
from inspector.delivery.choices import all_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.plan_file import plan_from_json, plan_to_json
from inspector.delivery.planning import make_plan
from inspector.errors import MeshqcError
from inspector.inspection.inspection import inspect_folder
from inspector.lettering.caption_file import read_captions
from inspector.report.rules_text import start_text
from inspector.sequence.discovery.discover import discover
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.shards import QueuePart, merge_parts, part_document
from inspector.tui.saved_state import SavedState, load, outdated, recent_folders, save, state_file
from tests.helpers.broken.uvs import bare
from tests.helpers.rules import rules_of
from tests.helpers.sequences import look_at_all, shot

DEEP: Any = json.loads("[" * 500 + "]" * 500)
VALUES: tuple[Any, ...] = (
    *(None, True, 0, -1, 10**30, 1e308, float("nan"), float("inf"), 0.5),
    *("", "1e999999", "9" * 5000, "1/0", "../../x", "\x1b[2J\u202e", "\udcff", "x" * 100_000),
    *([], [[]], [None], {}, {"x": 1}, DEEP),
)
CONTROLS = {"\x1b", "\u202e", "\udcff"}
MOST_PLACES = 40
"""Approximate maximum number of places that are changed in a document. Large documents have many similar places."""


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from places(inner, (*path, key))


def spread(document: Any) -> list[tuple[Any, ...]]:
    found = list(places(document))
    return found[: MOST_PLACES // 2] + found[MOST_PLACES // 2 :: max(1, len(found) // (MOST_PLACES // 2))]


def changed(document: Any, path: tuple[Any, ...], value: Any) -> Any:
    if not path:
        return value
    key, *rest = path
    copy = document.copy()
    copy[key] = changed(document[key], tuple(rest), value)
    return copy


def without(document: Any, path: tuple[Any, ...]) -> Any:
    key, *rest = path
    copy = document.copy()
    if rest:
        copy[key] = without(document[key], tuple(rest))
    else:
        del copy[key]
    return copy


def mutations(document: Any) -> Iterator[tuple[str, str]]:
    """For each change, yield its description and the text of the changed document."""
    for path in spread(document):
        for value in VALUES:
            yield f"{path} = {str(value)[:40]!r}", json.dumps(changed(document, path, value))
        if path:
            yield f"without {path}", json.dumps(without(document, path))


@dataclass(frozen=True)
class Work:
    root: Path
    plan: str


@pytest.fixture(scope="module")
def work(tmp_path_factory: pytest.TempPathFactory) -> Work:
    root = tmp_path_factory.mktemp("documents")
    inspection = look_at_all(root / "in", shot({4: bare}), expected=(1, 14), size=2.0)
    plan = make_plan(inspection, all_choices(inspection))
    deliver(plan, root / "out")
    return Work(root, plan_to_json(plan))


def refused_or_read(read: Callable[[], object], what: str) -> bool:
    """Return True if the document was read, and False if it was refused with a message of one line."""
    try:
        read()
    except MeshqcError as error:
        refusal = str(error)
    except Exception as error:
        raise AssertionError(what) from error
    else:
        return True
    assert "\n" not in refusal, what
    assert not CONTROLS.intersection(refusal), what
    return False


def test_plans(work: Work) -> None:
    inspection = inspect_folder(work.root / "in")
    read = [refused_or_read(lambda t=text: plan_from_json(t), what) for what, text in mutations(json.loads(work.plan))]
    assert any(read)
    assert not all(read)
    for what, text in mutations(json.loads(work.plan)):
        if "parameters" in what or "frames" in what:
            refused_or_read(lambda t=text: make_plan(inspection, plan_from_json(t).choices), what)


def test_receipts(work: Work, tmp_path: Path) -> None:
    """Verification inspects the folder, which is slow, so only one in 31 changed receipts is verified. Because 31 is a
    prime number, the verified receipts include every kind of value."""
    copy = Path(shutil.copytree(work.root / "out", tmp_path / "out"))
    place = copy / "meshqc-receipt.json"
    before = json.loads(place.read_text())
    for number, (what, text) in enumerate(mutations(before)):
        place.write_text(text)
        refused_or_read(lambda: discover(copy), what)
        if refused_or_read(lambda: read_receipt(copy), what) and number % 31 == 0 and json.loads(text) != before:
            refused_or_read(lambda w=what: not_proven(copy, w), what)


def not_proven(folder: Path, what: str) -> None:
    assert not audit(folder, Settings(), lambda _, __: None).proven, what


def test_parts(work: Work, tmp_path: Path) -> None:
    root, place = work.root / "in", tmp_path / "part.json"
    inspection = inspect_folder(root)
    (sequence,) = discover(root).sequences
    files = [None, *sequence.files]
    rows = [(facts, files[number]) for number, facts in enumerate(inspection.inspections[0].series.facts)]
    document = part_document(QueuePart(1, 1), root, rows)
    place.write_text(json.dumps(document))
    merge_parts([place], root, [sequence])
    for what, text in mutations(json.loads(place.read_text())):
        place.write_text(text)
        refused_or_read(lambda: merge_parts([place], root, [sequence]), what)


def test_the_saved_state(work: Work) -> None:
    """The saved state is never refused, so that the terminal UI always starts."""
    choices = plan_from_json(work.plan).choices
    save(work.root, SavedState("manta.####.obj", choices=choices, stated=Settings(size=2.0)))
    place = state_file()
    for what, text in mutations(json.loads(place.read_text())):
        place.write_text(text)
        try:
            load(work.root), outdated(), recent_folders()
            if not what.startswith("("):
                save(work.root, SavedState())
        except Exception as error:
            raise AssertionError(what) from error


LITERALS = (
    *("true", "0", "-1", str(10**30), "1e308", "-inf", "nan", "0.5", "1979-05-27", "07:32:00"),
    *('""', '"1e999999"', f'"{"9" * 5000}"', '"1/0"', '"../../x"', r'"\u001b[2J\u202e"', f'"{"x" * 100_000}"'),
    *("[]", "[[]]", "[nan, -1]", "{}", "{x = 1}", "[" * 90 + "]" * 90),
)
"""Values of every kind that TOML 1.0 defines, from the chapter "Integer" to the chapter "Inline Table"."""

CAPTIONS = """\
[defaults]
frames = "3-7"
[[version]]
name = "en"
texts = ["ONE", "Two words"]
outline = "#ffffff"
colour = "#102030"
box = [10, 20, 110, 80]
align = "left"
height = 12.5
base = "base.png"
opacity = 0.5
weight = 400
outline_width = 0.2
font = "own.ttf"
material = "skin"
"""


def toml_mutations(text: str) -> Iterator[tuple[str, str]]:
    """For each change, yield its description and the text of the changed file."""
    lines = text.splitlines()
    for number, line in enumerate(lines):
        key, equals, _ = line.partition(" = ")
        news = [[f"{key} = {literal}"] for literal in LITERALS] if equals else []
        for new in ([], [line, line], *news):
            yield f"{line[:40]} -> {str(new)[:60]}", "\n".join([*lines[:number], *new, *lines[number + 1 :]]) + "\n"


def test_rules(tmp_path: Path) -> None:
    """The test uncomments the rules in the file, so that all of them apply."""
    text = re.sub(r"(?m)^# ([\w-]+ = )", r"\1", start_text())
    rules_of(tmp_path, text)
    read = [refused_or_read(lambda t=text: rules_of(tmp_path, t), what) for what, text in toml_mutations(text)]
    assert any(read)
    assert not all(read)


def test_captions(tmp_path: Path) -> None:
    """The files that the captions refer to are not opened."""
    for name in ("base.png", "own.ttf"):
        (tmp_path / name).write_bytes(b"")
    file = tmp_path / "captions.toml"

    def reads(text: str, what: str) -> bool:
        file.write_text(text, encoding="utf-8")
        return refused_or_read(lambda: read_captions(file, Scope(tmp_path)), what)

    assert reads(CAPTIONS, "whole")
    read = [reads(text, what) for what, text in toml_mutations(CAPTIONS)]
    assert any(read)
    assert not all(read)
