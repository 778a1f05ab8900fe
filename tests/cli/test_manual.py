"""Tests of the manual and the README."""

from __future__ import annotations

import re
import shlex
import shutil
from itertools import pairwise
from pathlib import Path

import pytest

from inspector.checks.base.registry import all_checks
from inspector.cli import manual_pages
from inspector.cli.command import UsageError
from inspector.cli.registry import all_commands, named_commands, parse, ready
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form
from inspector.errors import MeshqcError
from inspector.fixes.base.registry import all_fixes
from inspector.inspection.inspection import inspect_folder
from inspector.rules.rule_keys import KEYS
from inspector.tui.keys import SCREENS
from tests.helpers.command import ROOT

_BLOCK = re.compile(r"(?:^    .*\n|^\n(?=    ))+", re.MULTILINE)
_PLACEHOLDER = re.compile(r"\b[A-Z]+(?:_[A-Z]+)*\b")
_NOT_HERE = ("--cluster", "watch", "kelp.usdc", "--animate", "--sheet")
"""Commands that contain one of these words are parsed here but not run, because they need a scheduler, a running export
or an extra, or because test_help runs them."""


def text_of(page: str) -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8") if page == "README" else manual_pages.page(page)


def blocks(page: str) -> list[str]:
    return [block.replace("\n    ", "\n").strip() for block in _BLOCK.findall(text_of(page))]


PAGES = ("README", *(topic for topic in manual_pages.TOPICS if topic != "commands"))  # test_help runs those


def test_topics_are_the_files_that_there_are() -> None:
    assert sorted(manual_pages.TOPICS) == sorted(path.stem for path in manual_pages.FOLDER.glob("*.md"))
    assert all(manual_pages.page(topic).startswith("# ") for topic in manual_pages.TOPICS)
    assert not [topic for topic in manual_pages.TOPICS if "{{" in manual_pages.page(topic)]
    assert all(topic in manual_pages.contents() for topic in manual_pages.TOPICS)


def test_tables_have_all_that_the_registries_have() -> None:
    assert all(f"| `{check.id}` |" in manual_pages.page("checks") for check in all_checks())
    assert all(f"| `{fix.id}` |" in manual_pages.page("fix") for fix in all_fixes())
    assert all(f"| `{key.name}` |" in manual_pages.page("rules") for key in KEYS.values())
    assert all(f"### {title}" in manual_pages.page("terminal") for title in SCREENS)
    assert all(f"usage: {command.usage_line}" in manual_pages.page("commands") for command in all_commands().values())


def test_symptoms_name_checks_that_there_are() -> None:
    named = set(re.findall(r"`([a-z]+(?:-[a-z]+)*)`", manual_pages.page("symptoms")))
    assert named <= {check.id for check in all_checks()}


def test_search_and_unknown_pages() -> None:
    hits = manual_pages.find(["REFERENCE", "frame"])
    assert {"words", "check"} <= {hit.topic for hit in hits}
    shown = manual_pages.hits_text(["reference", "frame"], hits)
    assert "words: Words\n" in shown
    assert "    | reference frame | " in shown
    assert manual_pages.hits_text(["\x1b[2J"], manual_pages.find(["\x1b[2J"])).startswith(
        "no page of the manual contains \\x1b[2J"
    )
    with pytest.raises(MeshqcError, match=r"no page chek; choose one of: check"):
        manual_pages.page("chek")


@pytest.mark.parametrize(
    ("words", "topic", "heading"),
    [
        ("exit code 1", "queue", "Exit codes"),
        ("yesterday", "compare", "The next export"),
        ("share", "queue", "Share one check between machines"),
    ],
)
def test_search_leads_to_the_page_about_it(words: str, topic: str, heading: str) -> None:
    first = manual_pages.find(words.split())[0]
    assert (first.topic, first.lines[0].heading) == (topic, heading)


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            "scale wrong",
            "    Without these statements, a frame missing at the end, or a scale that is wrong by a factor of",
        ),
        ("STATE factor", "    3. State what only you know: `--frames 1-240` if that range was exported"),
        ("early empty", "    | It ends too early, or a frame is empty | "),
    ],
)
def test_all_words_in_one_passage_are_found_in_any_order(words: str, line: str) -> None:
    shown = manual_pages.hits_text(words.split(), manual_pages.find(words.split()))
    assert any(one.startswith(line) for one in shown.splitlines())


def test_words_of_different_passages_are_not_found_together() -> None:
    assert manual_pages.find(["hundred", "recognised"])
    assert manual_pages.find(["HANDOFF.txt", "textures"])
    assert "start" not in {hit.topic for hit in manual_pages.find(["recognised", "HANDOFF.txt"])}
    words = ["recognised", "qqqq"]
    assert manual_pages.hits_text(words, manual_pages.find(words)).startswith(
        "no page of the manual has a passage with all of these words (recognised, qqqq);"
    )


@pytest.mark.parametrize("words", ["--find scale wrong", "--find 'wrong scale'"])
def test_words_to_find_are_separate_or_quoted(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert ready(["manual", *shlex.split(words)])() == 0
    assert capsys.readouterr().out.startswith("start: Start here\n")


@pytest.mark.parametrize("words", ["fix --find scale", "--find ''"])
def test_a_search_needs_words_and_no_page(words: str) -> None:
    with pytest.raises(UsageError, match="--find needs words, and can't be combined with a page"):
        ready(["manual", *shlex.split(words)])()


def test_search_shows_tables_last_and_where_the_rest_is() -> None:
    hits = manual_pages.find(["reference"])
    from_tables = [all(line.made for line in hit.lines) for hit in hits]
    assert from_tables == sorted(from_tables)
    assert hits[-1].topic == "commands"
    shown = manual_pages.hits_text(["reference"], hits)
    assert "commands: All commands\n  meshqc FOLDER\n    --size UNITS" in shown
    assert f"\n  {len(hits[-1].lines) - 3} more lines: meshqc manual commands\n" in shown


@pytest.mark.parametrize("page", PAGES)
def test_what_is_shown_is_what_is_said(
    page: str, demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line that starts with `$` is a command. The lines after it are its expected output, in which `...` stands for
    output that is left out."""
    lines = [line for block in blocks(page) for line in _lines(block)]
    shutil.copytree(demo, tmp_path / "harbour")
    if any("kelp.abc" in line for line, _ in lines):
        deliver(make_plan(inspect_folder(demo / "kelp_broken"), ()), tmp_path / "archive", form=Form("abc"))
        next((tmp_path / "archive").glob("*.abc")).rename(tmp_path / "kelp.abc")
    for name in ("title_a.png", "title_b.png"):
        shutil.copy(demo / "manta" / "textures" / "manta.png", tmp_path / name)
    monkeypatch.chdir(tmp_path)
    for line, output in lines:
        words = shlex.split(line)[1:]
        if words[:1] == ["demo"]:
            continue
        if _only_parsed(line, words):
            parse(words)
        else:
            code = ready(words)()
            printed = capsys.readouterr()
            assert code in (0, 1), (line, printed.err)
            _assert_shown(line, output, " ".join(printed.out.split()).replace(str(tmp_path.resolve()), "/shots"))


def test_no_two_pages_write_the_same_folder_or_file() -> None:
    """A reader may follow several pages in one folder, and a command is refused if its output path already exists."""
    words = [shlex.split(line) for page in PAGES for block in blocks(page) for line, _ in _lines(block)]
    outputs = [after for line in words for word, after in pairwise(line) if word in ("--output", "--layers")]
    outputs += [line[3] for line in words if line[1:2] == ["unpack"] and len(line) > 3]
    named = [output for output in outputs if not _PLACEHOLDER.fullmatch(output)]
    assert len(named) > 20
    assert sorted(named) == sorted(set(named))


def _only_parsed(line: str, words: list[str]) -> bool:
    opens_the_terminal_ui = bool(words) and words[0] not in named_commands()
    plain = re.sub(r'"[^"]*"|\S+ [A-Z]+$', "", line)
    return opens_the_terminal_ui or bool(_PLACEHOLDER.search(plain)) or any(one in line for one in _NOT_HERE)


def _lines(block: str) -> list[tuple[str, str]]:
    if block.startswith("$ "):
        command, _, output = block.removeprefix("$ ").replace("\\\n", "").partition("\n")
        return [(command, output)]
    found = [re.split(r"(?<=\S) {2,}", line)[0] for line in block.splitlines() if line.startswith("meshqc ")]
    return [(line.partition(" > ")[0], "") for line in found]


def _assert_shown(line: str, output: str, said: str) -> None:
    at = 0
    for piece in output.split("..."):
        words = " ".join(piece.split())
        found = said.find(words, at)
        assert found >= 0, f"{line} does not say:\n{piece}\nbut:\n{said}"
        at = found + len(words)
