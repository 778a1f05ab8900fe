"""Write skeletons of a new module and of its test, and print what else to change.

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
_GROUPED = ("check", "fix")  # their names are GROUP/ID
_ORDER = Path("inspector/fixes/base/registry.py")


@dataclass(frozen=True)
class Skeleton:
    """The skeleton of a new module, such as a check, and of its test.

    Attributes:
        module: Path of the module, as a format string with the fields that `make` fills in.
        code: Text of the module.
        test: Path of the test.
        tested: Text of the test.
        rest: What else to change, one entry per line.
    """

    module: str
    code: str
    test: str
    tested: str
    rest: tuple[str, ...]


_CHECK = Skeleton(
    "inspector/checks/{group}/{stem}.py",
    '''"""TODO what is wrong, as a noun phrase."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts


def run(context: CheckContext) -> Iterator[Finding]:
    if not base_facts(context).faces:
        raise NotApplicable("there are no faces")
    yield from ()  # TODO one Finding for all frames that have the problem


CHECK = Check(
    id="{id}",
    title="{Title}",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="TODO what the problem is.",
        after_import="TODO what you would see in the picture.",
        what_to_do="TODO how to correct it.",
    ),
    run=run,
    fixes=(),  # TODO ids of the fixes that correct the problem
    scope=CheckScope.FRAME,  # TODO what must have been read before the check can judge
    needs=(),  # TODO Traits that a format must have for the check; Trait.STATEMENTS if the check reads the text
)
''',
    "tests/checks/{group}/test_{stem}.py",
    '''"""Tests of the check {id}. Source: TODO where the expected values come from."""

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
        "replace each TODO; declare thresholds as Threshold values and list them in `thresholds` of CHECK",
        "in its test: no finding just below each threshold, and a finding just above it",
        "if the check needs a value that is not measured yet: see 'A new fact' in DEVELOPERS.md",
        "if tests of other checks now fail: state `explained_by` in a check, or `companions` in a test",
        "tests/fixes/test_answers.py: a case for each fix in `fixes`",
        "run tests/checks tests/inspection tests/prose, and pytest -m matrix",
    ),
)

_FIX = Skeleton(
    "inspector/fixes/{group}/{stem}.py",
    '''"""TODO what the fix does, in the imperative."""

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
        Refusal: No frame needs the fix.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if one.readable)) if frames is None else frames
    indices: list[int] = [index for index in readable_indices(context, wanted) if False]  # TODO frames that need it
    if not indices:
        raise Refusal("TODO why there is nothing to do")
    numbers = context.numbers(indices)
    return Step(FIX.id, {{}}, numbers, f"TODO in {{numbers_text(numbers)}}", (), work=None)


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    """Return the frame TODO."""
    return frame  # TODO frame.replace(...), or Draft(frame) of fixes/base/text_edit.py for its text


FIX = Fix(
    id="{id}",
    title="{Title}",
    kind=FixKind.LOSSLESS,
    does="TODO what the fix does.",
    cost="",
    touches=frozenset({{b"v"}}),
    claims=frozenset({{Claim.POSITIONS}}),
    plan=plan,
    edit_frame=edit_frame,
)
''',
    "tests/fixes/{group}/test_{stem}.py",
    '''"""Tests of the fix {id}. Source: TODO where the expected values come from."""

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
        "its id is now last in ORDER (inspector/fixes/base/registry.py): move it to where it must be applied",
        "replace each TODO; verification fails if the fix does more than its `kind`, `touches` and `claims` allow",
        "two fixes with the same claim exclude each other; a new claim is a new member of Claim (fixes/base/fix.py)",
        "if it changes data, also fill in `changes` and `cost`",
        "in its test: what changes, what stays the same to the byte, and each refusal",
        "tests/helpers/fuzz/deliveries.py: the parts that it may change, in TOUCHES (or its id in NOT_COMPARED)",
        "if it corrects what a check finds: add its id to fixes=(...) of the check, and a case to "
        "tests/fixes/test_answers.py (run that file in a separate command, because -k applies to all paths)",
        "run tests/fixes tests/delivery tests/fuzz tests/prose",
    ),
)

_FORMAT = Skeleton(
    "inspector/formats/files/{stem}.py",
    '''"""{Title} files. Source: TODO name of the format's document."""

from __future__ import annotations

import numpy as np

from inspector.formats.format import Beside, Format, Trait
from inspector.formats.mesh import Mesh, Part, corners_of
from inspector.formats.problems import UnreadableFrame


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith(b"TODO {id}")  # must not match any other format


def read(data: bytes, _: Beside) -> Mesh:
    """Read the mesh of a file."""
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
    '''"""Tests of {Title} files. Sources: TODO the format's document, and another library."""

from __future__ import annotations

import pytest

from inspector.formats.files.{stem} import read
from inspector.formats.problems import UnreadableFrame


def test_a_different_file_is_refused() -> None:
    with pytest.raises(UnreadableFrame):
        read(b"", lambda _: b"")
''',
    (
        "replace each TODO; if a file holds a whole animation, use read=None and scene=SceneFormat(open=...) "
        "(formats/animation.py)",
        "if `fix --as` can write the format: use write=..., and add it to FORMS in inspector/cli/commands/fix.py, "
        "FORMATS in tests/delivery/test_carried.py and READERS in test_carried_elsewhere.py",
        "tests/formats/test_other_formats.py: samples for recognition and damage; if written, its id in the lists",
        "tests/formats/test_what_is_read.py: a table in TABLES, with a row for each kind of data in the format",
        "tests/formats/test_refused.py: a number without bounds; in its own test: damaged and foreign files",
        "inspector/manual/formats.md",
        "run tests/formats tests/delivery tests/cli/test_manual.py tests/prose",
    ),
)

_REPORT = Skeleton(
    "inspector/report/formats/{stem}.py",
    '''"""Write an inspection as {id}. Source: TODO name of the format's document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection


def render(result: FolderInspection, _: Request) -> str:
    """Return TODO what the report contains."""
    from inspector.report.document import folder_document

    return f"{{folder_document(result)['verdict']}}\\n"  # TODO


FORMAT = ReportFormat(
    "{id}",
    "TODO what it contains and who needs it, for --help",
    render,
    names_rules=False,  # True if the report names the delivery rules
)
''',
    "tests/report/test_{stem}.py",
    '''"""Tests of the report {id}, read back by TODO another library."""

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
        "replace each TODO",
        "tests/report/test_formats.py: a function in READ_BACK that reads its numbers back",
        "inspector/manual/check.md: a row in the table of formats",
        "run tests/report tests/cli tests/prose",
    ),
)

_SCREEN = Skeleton(
    "inspector/tui/screens/{stem}_screen.py",
    '''"""TODO what the screen shows, as a noun phrase."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.tui import keys
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule


class {Class}Screen(SessionScreen):
    """TODO what the screen shows, as a noun phrase."""

    BINDINGS = keys.bindings(keys.PAGE)  # TODO if it has its own keys: their table, here and in the footer

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, "{title}")
        yield KeyFooter(keys.PAGE)
''',
    "tests/tui/test_{stem}.py",
    '''"""Tests of the screen `{title}`."""

from __future__ import annotations

import pytest

from inspector.tui.screens.{stem}_screen import {Class}Screen
from tests.helpers.tui.screens import assert_screen, opened, press, screen_text
from tests.helpers.tui.world import harbour


async def test_what_it_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await app.push_screen({Class}Screen(app.session, app.glyphs))  # TODO open it by its key
        await press(pilot)
        assert "{title}" in screen_text(app)
        assert_screen(app, "{id}")
''',
    (
        "replace each TODO",
        "inspector/tui/keys.py: the key that opens it on the main screen; if it has keys of its own, also their table, "
        "which replaces keys.PAGE, and a row in SCREENS",
        "inspector/tui/screens/opened.py: its class, if a key of the main screen opens it",
        "screens/main_screen.py, tui/actions/ or the screen below it: the action that opens it",
        "tests/tui/test_keys.py: its class in OWNERS, under 'Pages of text' if it uses keys.PAGE, otherwise under its "
        "own heading; if it has a list or a page of text, also the heading in WITH_LISTS",
        "tests/helpers/hostile/walk.py: the keys that lead to it in ROWS, so that its keys are tested with evil names",
        "inspector/manual/terminal.md: a sentence about it",
        "run MESHQC_WRITE_SCREENS=1 pytest tests/tui, then look at its snapshot and at the snapshots that changed",
        "run tests/tui tests/hostile/test_keyboard_screens.py tests/prose",
    ),
)

KINDS = {"check": _CHECK, "fix": _FIX, "format": _FORMAT, "report": _REPORT, "screen": _SCREEN}


def make(kind: str, name: str, root: Path = ROOT) -> list[Path]:
    """Write the module and the test of something new. For a fix, also append its id to ORDER.

    Args:
        kind: A key of KINDS.
        name: The id. For a check or a fix, the group comes first: `shape/sharp-corners`.
        root: The root folder of the project.

    Returns:
        The paths of the module and of the test.

    Raises:
        ValueError: The name has the wrong form, the group doesn't exist, or one of the files exists. Nothing is
            written.
    """
    group, slash, identifier = name.rpartition("/")
    if bool(slash) != (kind in _GROUPED) or not _NAME.fullmatch(identifier):
        form = "GROUP/ID" if kind in _GROUPED else "ID"
        raise ValueError(f"the name of a {kind} is {form}; ID is words of a-z and 0-9 joined by hyphens: sharp-corners")
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
            raise ValueError(f"{target.relative_to(root)} already exists")
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
