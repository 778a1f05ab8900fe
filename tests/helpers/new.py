"""Skeletons: module and test of something new, and the list of what else to touch.

python -m tests.helpers.new check shape/sharp-corners
python -m tests.helpers.new fix text/blank-lines
python -m tests.helpers.new format xyz
python -m tests.helpers.new report yaml
python -m tests.helpers.new screen history
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


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

from inspector.checks.base.check import Check, NotApplicable, Rationale
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
        "severity, rationale and fixes in CHECK; thresholds as Threshold values beside it",
        "tests: on either side of each threshold",
        "run tests/checks/base, tests/checks/motion/test_healthy_motion.py and tests/matrix",
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
from inspector.fixes.base.frames import readable_indices
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
        "inspector/fixes/base/registry.py: its id in ORDER, where it belongs in the order of application",
        "fixes=(...) of the checks that it answers, and a case for each in tests/fixes/test_answers.py",
        "kind, touches and claims in FIX: verification holds the fix to them",
    ),
)

_FORMAT = Skeleton(
    "inspector/formats/files/{stem}.py",
    '''"""{Title} files. Source: TODO the format's document."""

from __future__ import annotations

from inspector.formats.format import Beside, Format, Trait
from inspector.formats.mesh import Mesh
from inspector.formats.problems import UnreadableFrame


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith(b"TODO {id}")  # no other format may be taken for it


def read(data: bytes, _: Beside) -> Mesh:
    """The mesh of a file."""
    if not _recognises(data, len(data)):
        raise UnreadableFrame("foreign")
    raise UnreadableFrame("not-supported", reason="TODO")


FORMATS = (
    Format(
        "{id}",
        "{Title}",
        (b".{id}",),
        frozenset({{Trait.POLYGONS, Trait.SHARED}}),
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
        "tests/formats/: a file of it in the recognition matrix, and its malformations",
        "write=... in Format where `fix --as` shall write it",
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


FORMAT = ReportFormat("{id}", "TODO for whom", render)
''',
    "tests/report/test_{stem}.py",
    '''"""The result as {id}: TODO read back by another library."""

from __future__ import annotations

from pathlib import Path

from inspector import inspect
from inspector.report.formats import Request
from inspector.report.formats.{stem} import render


def test_the_verdict(demo: Path) -> None:
    assert "errors" in render(inspect(demo / "manta"), Request(demo / "manta"))
''',
    ("tests/report/test_formats.py: how its numbers are read back", "inspector/manual/check.md: a row in its table"),
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

    BINDINGS = keys.bindings(keys.PAGE)  # TODO keys of its own

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, "{title}")
        yield KeyFooter(keys.PAGE)
''',
    "tests/tui/test_{stem}.py",
    '''"""The screen `{title}`."""

from __future__ import annotations

from inspector.tui.screens.{stem}_screen import {Class}Screen


def test_its_keys_are_those_of_the_table() -> None:
    assert {Class}Screen.BINDINGS
''',
    (
        "inspector/tui/keys.py: its keys, a row in SCREENS, and the key that opens it on the main screen",
        "inspector/tui/app.py or the screen below it: the action that opens it",
        "tests/helpers/hostile/walk.py: the way to it, so that every key is pressed on evil names",
        "MESHQC_WRITE_SCREENS=1 pytest tests/tui, and look at the snapshot",
    ),
)

KINDS = {"check": _CHECK, "fix": _FIX, "format": _FORMAT, "report": _REPORT, "screen": _SCREEN}


def make(kind: str, name: str, root: Path = ROOT) -> list[Path]:
    """Write module and test. Returns their paths.

    Args:
        kind: key of KINDS.
        name: the id, for a check or fix with its group before it: `shape/sharp-corners`.
        root: the clone.

    Raises:
        FileExistsError: one of them exists already.
    """
    group, _, identifier = name.rpartition("/")
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
    skeleton = KINDS[kind]
    made = []
    for path, text in ((skeleton.module, skeleton.code), (skeleton.test, skeleton.tested)):
        target = root / path.format(**fields)
        with target.open("x", encoding="utf-8") as file:
            file.write(text.format(**fields))
        made.append(target)
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=KINDS)
    parser.add_argument("name", help="the id; GROUP/ID for a check or fix")
    options = parser.parse_args()
    if options.kind in ("check", "fix") and "/" not in options.name:
        parser.error(f"a {options.kind} needs its group: GROUP/{options.name}")
    made = make(options.kind, options.name)
    lines = [*(f"wrote {path.relative_to(ROOT)}" for path in made), "then:"]
    sys.stdout.write("\n".join([*lines, *(f"  {line}" for line in KINDS[options.kind].rest)]) + "\n")


if __name__ == "__main__":
    main()
