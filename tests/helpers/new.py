"""Skeletons: module and test of something new, and the list of what else to touch.

python -m tests.helpers.new check shape/sharp-corners
python -m tests.helpers.new fix text/blank-lines
python -m tests.helpers.new format xyz
python -m tests.helpers.new report yaml
python -m tests.helpers.new screen history
"""

from __future__ import annotations

import argparse
import re
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_GROUPED = ("check", "fix")  # their name has its group before it
_ORDER = Path("inspector/fixes/base/registry.py")


@dataclass(frozen=True)
class Skeleton:
    """One kind of thing.

    Attributes:
        module: path of the module, with the fields of `_fields`.
        code: its text.
        test: path of its test.
        tested: text of the test.
        rest: what else to touch, a line each.
    """

    module: str
    code: str
    test: str
    tested: str
    rest: tuple[str, ...]


_CHECK = Skeleton(
    "inspector/checks/{group}/{stem}.py",
    '''"""{Title}: TODO what it compares."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts


def run(context: CheckContext) -> Iterator[Finding]:
    if not base_facts(context).faces:
        raise NotApplicable("there are no faces")
    yield from ()  # TODO one Finding for all frames that have it


CHECK = Check(
    id="{id}",
    title="{Title}",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="TODO what it is.",
        after_import="TODO what you would see.",
        what_to_do="TODO what to do.",
    ),
    run=run,
    fixes=(),  # TODO ids of the fixes that can answer it
    scope=CheckScope.FRAME,  # TODO what must have been read before it can judge
    needs=(),  # TODO Traits of a format without which there is nothing to judge; Trait.STATEMENTS for the text itself
)
''',
    "tests/checks/{group}/test_{stem}.py",
    '''"""{id}: TODO the source of what is expected."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import broken
from tests.helpers.sequences import shot

NAME = "manta.0005.obj"


def test_on_one_frame(tmp_path: Path) -> None:
    files = shot() | {{NAME: shot()[NAME]}}  # TODO break this frame
    said, _ = broken(tmp_path, "{id}", files)
    assert said == [("{id}", "warning", [5.0])]
''',
    (
        "each TODO; thresholds as Threshold values beside CHECK and in its `thresholds`",
        "its test: silent just below each threshold, reported just above",
        "a value that is not measured yet: 'A new fact' in DEVELOPERS.md",
        "other tests that report it now: `explained_by`, or `companions` with a reason",
        "a case in tests/fixes/test_answers.py for each fix that it names",
        "run tests/checks tests/inspection tests/prose, and pytest -m matrix",
    ),
)

_FIX = Skeleton(
    "inspector/fixes/{group}/{stem}.py",
    '''"""{Title}: TODO what it changes."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.formats.frame import Frame
from inspector.sequence.discovery.frame_ranges import numbers_text


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the frames that TODO.

    Raises:
        Refusal: There is none.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if one.readable)) if frames is None else frames
    indices: list[int] = [index for index in readable_indices(context, wanted) if False]  # TODO frames that need it
    if not indices:
        raise Refusal("TODO why there is nothing to do")
    numbers = context.numbers(indices)
    return Step(FIX.id, {{}}, numbers, f"TODO in {{numbers_text(numbers)}}", (), work=None)


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    """The frame TODO."""
    return frame  # TODO frame.replace(...)


FIX = Fix(
    id="{id}",
    title="{Title}",
    kind=FixKind.LOSSLESS,
    does="TODO what it does.",
    cost="",
    touches=frozenset({{b"v"}}),
    claims=frozenset({{Claim.POSITIONS}}),
    plan=plan,
    edit_frame=edit_frame,
)
''',
    "tests/fixes/{group}/test_{stem}.py",
    '''"""{id}: TODO the source of what is expected."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import plan_for
from tests.helpers.sequences import shot


def test_nothing_to_do_is_a_refusal(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="TODO why"):
        plan_for(tmp_path, shot(), "{id}")
''',
    (
        "its id is now last in ORDER (inspector/fixes/base/registry.py): move it to where it applies",
        "each TODO; kind, touches and claims in FIX: verification holds the fix to them",
        "a claim that another fix has excludes that fix; a new value is a new member of Claim (fixes/base/fix.py)",
        "a fix that changes data also states `changes` and `cost`",
        "its test: what it changes, what stays byte for byte, and each refusal",
        "fixes=(...) of the checks that it answers, and a case for each in tests/fixes/test_answers.py",
        "run tests/fixes tests/delivery tests/prose",
    ),
)

_FORMAT = Skeleton(
    "inspector/formats/files/{stem}.py",
    '''"""{Title} files. Source: TODO the format's document."""

from __future__ import annotations

import numpy as np

from inspector.formats.format import Beside, Format, Trait
from inspector.formats.mesh import Mesh, Part, corners_of
from inspector.formats.problems import UnreadableFrame


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith(b"TODO {id}")  # no other format may be taken for it


def read(data: bytes, _: Beside) -> Mesh:
    """The mesh of a file."""
    if not _recognises(data, len(data)):
        raise UnreadableFrame("foreign")
    positions, offsets, v = np.zeros((0, 3)), np.zeros(1, np.int64), np.zeros(0, np.int64)  # TODO from the file
    faces = len(offsets) - 1
    return Mesh(positions, corners_of(offsets, v), parts=(Part(0, faces),))  # parts cover all faces


FORMATS = (
    Format(
        "{id}",
        "{Title}",
        (b".{id}",),
        frozenset({{Trait.POLYGONS, Trait.SHARED, Trait.GAPS}}),  # TODO without GAPS if a file holds a whole animation
        _recognises,
        read,
    ),
)
''',
    "tests/formats/files/test_{stem}.py",
    '''"""{Title} against TODO its document and another library."""

from __future__ import annotations

import pytest

from inspector.formats.files.{stem} import read
from inspector.formats.problems import UnreadableFrame


def test_what_is_no_such_file() -> None:
    with pytest.raises(UnreadableFrame):
        read(b"", lambda _: b"")
''',
    (
        "each TODO; a file that holds a whole animation has read=None and scene=SceneFormat(open=...) "
        "(formats/animation.py)",
        "write=... where `fix --as` shall write it; then FORMS in inspector/cli/commands/fix.py, FORMATS in "
        "tests/delivery/test_carried.py and READERS in test_carried_elsewhere.py",
        "tests/formats/test_other_formats.py: a sample for the test of recognition, and its kind in the lists",
        "tests/formats/test_what_is_read.py: a table in TABLES, with a row for each thing that the format can hold",
        "tests/formats/test_refused.py: what must not be taken for it; in its own test, what is cut off or damaged",
        "inspector/manual/formats.md",
        "run tests/formats tests/delivery tests/cli/test_manual.py tests/prose",
    ),
)

_REPORT = Skeleton(
    "inspector/report/formats/{stem}.py",
    '''"""The result as {id}. Source: TODO the format's document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection


def render(result: FolderInspection, _: Request) -> str:
    """TODO what it holds."""
    from inspector.report.document import folder_document

    return f"{{folder_document(result)['verdict']}}\\n"  # TODO


FORMAT = ReportFormat(
    "{id}",
    "TODO for whom",
    render,
    names_rules=False,  # True once the report itself names the delivery rules
)
''',
    "tests/report/test_{stem}.py",
    '''"""The result as {id}: TODO read back by another library."""

from __future__ import annotations

from pathlib import Path

from inspector.inspection.inspection import inspect_folder
from inspector.report.document import folder_document
from inspector.report.formats import Request
from inspector.report.formats.{stem} import render


def verdict_of(text: str) -> dict[str, int]:
    raise NotImplementedError(text)  # TODO the counts, read back by another library


def test_the_verdict(demo: Path) -> None:
    result = inspect_folder(demo / "manta_broken")
    assert verdict_of(render(result, Request(demo))) == folder_document(result)["verdict"]
''',
    (
        "each TODO",
        "tests/report/test_formats.py: how its numbers are read back, in READ_BACK",
        "inspector/manual/check.md: a row in the table of formats",
        "run tests/report tests/cli/test_rules.py tests/cli/test_manual.py tests/prose",
    ),
)

_SCREEN = Skeleton(
    "inspector/tui/screens/{stem}_screen.py",
    '''"""{Title}: TODO what it shows."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.tui import keys
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule


class {Class}Screen(SessionScreen):
    """TODO what it shows."""

    BINDINGS = keys.bindings(keys.PAGE)  # TODO keys of its own, here and in the footer, or none

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, "{title}")
        yield KeyFooter(keys.PAGE)
''',
    "tests/tui/test_{stem}.py",
    '''"""The screen `{title}`."""

from __future__ import annotations

import pytest

from inspector.tui.screens.{stem}_screen import {Class}Screen
from tests.helpers.tui.screens import assert_screen, opened, press, screen_text
from tests.helpers.tui.world import harbour


async def test_what_it_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await app.push_screen({Class}Screen(app.session, app.glyphs))  # TODO by its key
        await press(pilot)
        assert "{title}" in screen_text(app)
        assert_screen(app, "{id}")
''',
    (
        "each TODO",
        "inspector/tui/keys.py: the key that opens it on the main screen; for keys of its own also their table, in "
        "place of keys.PAGE, and a row in SCREENS",
        "inspector/tui/actions/ or the screen below it: the action that opens it",
        "tests/tui/test_keys.py: its class in OWNERS, with keys.PAGE under 'Pages of text', otherwise under its own "
        "heading, which is in WITH_LISTS too if a list or a page is on it",
        "tests/helpers/hostile/walk.py: the way to it in ROWS, so that every key is pressed on evil names",
        "inspector/manual/terminal.md: a sentence about it",
        "MESHQC_WRITE_SCREENS=1 pytest tests/tui, and look at its snapshot and at those that changed",
        "run tests/tui tests/hostile/test_keyboard_screens.py tests/prose",
    ),
)

KINDS = {"check": _CHECK, "fix": _FIX, "format": _FORMAT, "report": _REPORT, "screen": _SCREEN}


def make(kind: str, name: str, root: Path = ROOT) -> list[Path]:
    """Write module and test, and the id of a fix into ORDER. Returns the paths of the two.

    Args:
        kind: key of KINDS.
        name: the id, for a check or fix with its group before it: `shape/sharp-corners`.
        root: the clone.

    Raises:
        ValueError: the name has another form, there is no such group, or one of the files exists. Nothing is written.
    """
    group, slash, identifier = name.rpartition("/")
    if bool(slash) != (kind in _GROUPED) or not _NAME.fullmatch(identifier):
        form = "GROUP/ID" if kind in _GROUPED else "ID"
        raise ValueError(f"the name of a {kind} is {form}, and ID is words of a-z and 0-9 with hyphens: sharp-corners")
    skeleton = KINDS[kind]
    package = skeleton.module.partition("/{group}")[0]
    groups = sorted(path.parent.name for path in (root / package).glob("*/__init__.py") if path.parent.name != "base")
    if group and group not in groups:
        raise ValueError(f"there is no group {group}; groups of {package}: {', '.join(groups)}")
    stem = identifier.replace("-", "_")
    title = identifier.replace("-", " ")
    fields = {
        "group": group,
        "id": identifier,
        "stem": stem,
        "title": title,
        "Title": title.capitalize(),
        "Class": title.title().replace(" ", ""),
    }
    texts = {
        root / skeleton.module.format(**fields): skeleton.code.format(**fields),
        root / skeleton.test.format(**fields): skeleton.tested.format(**fields),
    }
    for target in texts:
        if target.exists():
            raise ValueError(f"{target.relative_to(root)} exists")
    if kind == "fix":
        order = root / _ORDER
        before, start, after = order.read_text(encoding="utf-8").partition("ORDER = (\n")
        ids, end, rest = after.partition(")\n")
        order.write_text(f'{before}{start}{ids}    "{identifier}",\n{end}{rest}', encoding="utf-8")
    for target, text in texts.items():
        target.write_text(text, encoding="utf-8")
    return list(texts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=KINDS)
    parser.add_argument("name", help="the id; GROUP/ID for a check or fix")
    options = parser.parse_args()
    try:
        made = make(options.kind, options.name)
    except ValueError as error:
        parser.error(str(error))
    lines = [*(f"wrote {path.relative_to(ROOT)}" for path in made), "then:"]
    sys.stdout.write("\n".join([*lines, *(f"  {line}" for line in KINDS[options.kind].rest)]) + "\n")


if __name__ == "__main__":
    main()
