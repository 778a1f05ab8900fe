"""Tests of the command line's options and arguments."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest

from inspector import __version__, _native
from inspector.cli.command import UsageError
from inspector.cli.registry import parse
from tests.helpers.command import assert_one_sentence, environment, meshqc


def test_a_folder_alone_opens_the_terminal_ui(tmp_path: Path) -> None:
    command, arguments = parse([str(tmp_path), "--frames", "1-240", "--reference", "1.5"])
    assert (command.name, arguments.folder) == ("", tmp_path)
    assert arguments.settings.expected == (Fraction(1), Fraction(240))
    assert arguments.settings.reference == Fraction(3, 2)


def test_settings_reach_the_command(tmp_path: Path) -> None:
    donor = tmp_path / "rest.obj"
    donor.touch()
    words = ["fix", str(tmp_path), "--output", "out", "--size", "1.8", "--textures", str(tmp_path)]
    settings = parse([*words, "--textures", str(tmp_path), "--fps", "24000/1001", "--uvs-from", str(donor)])[1].settings
    assert settings.size == 1.8
    assert settings.textures == (tmp_path, tmp_path)
    assert settings.rate == Fraction(24000, 1001)
    assert settings.uvs_from == donor


def test_a_donor_is_found_from_any_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A saved plan may be used in any folder, so the donor's path must be absolute."""
    (tmp_path / "rest.obj").touch()
    monkeypatch.chdir(tmp_path)
    assert parse(["fix", ".", "--dry-run", "--uvs-from", "rest.obj"])[1].settings.uvs_from == tmp_path / "rest.obj"


def test_fixes_with_parameters(tmp_path: Path) -> None:
    words = ["fix", str(tmp_path), "--with", "scale:factor=0.01", "--with", "fill-frames:mode=hold,ends=true"]
    words += ["--with", "keep-objects:names=left,right"]
    options = parse([*words, "--only", "renumber:start=1001", "drop-repeated-frames"])[1].options
    assert options.add == [
        ("scale", {"factor": 0.01}),
        ("fill-frames", {"mode": "hold", "ends": True}),
        ("keep-objects", {"names": "left,right"}),
    ]
    assert options.only == [("renumber", {"start": 1001}), ("drop-repeated-frames", {})]


@pytest.mark.parametrize("word", ["check", "fix", "demo"])
def test_a_folder_called_like_a_command_is_reached_with_a_dot(word: str, tmp_path: Path) -> None:
    (tmp_path / word).mkdir()
    assert parse([f"{tmp_path}/{word}"])[0].name == ""
    with pytest.raises(UsageError, match=rf"meshqc \./{word}"):
        parse([word])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere"], "nowhere: no such folder or command"),
        (["chek", "."], "chek: no such folder or command"),
        ([".", "--frames", "9-3"], "3-9"),
        ([".", "--frames", "1..9"], "such as 1-240"),
        ([".", "--size", "0"], "above 0"),
        ([".", "--size", "nan"], "above 0"),
        ([".", "--size"], "--size"),
        ([".", "--reference", "first"], "such as 7"),
        ([".", "--fps", "1/0"], "such as 24"),
        ([".", "--textures", "nowhere"], "nowhere is not a folder"),
        ([".", "--uvs-from", "nowhere.obj"], "nowhere.obj is not a file"),
        (["check", ".", "--fail-on", "panic"], "error"),
        ([".", "--frames", "1-99999999999"], "at most 1,000,000 frames"),
        (["check", ".", "--jsn"], "unknown option or argument: --jsn (nearest: --json); see meshqc check --help"),
        (["check", "--json"], "missing: FOLDER"),
        (["fix", ".", "--with", "scale:factor"], "scale:factor=0.01"),
        (["fix", ".", "--output"], "--output: a value is missing; see meshqc fix --help"),
        (["fix", ".", "--only"], "--only: a value is missing"),
        (
            ["picture", ".", "--output", "a.png", "--animate", "--sheet", "3"],
            "--sheet: can't be combined with --animate",
        ),
        (["compare", "."], "missing: one of --against --corrected --with; see meshqc compare --help"),
        (["chek", "."], "nearest: check"),
        (["rule"], "nearest: rules"),
    ],
)
def test_wrong_words_are_answered_with_what_is_expected(words: list[str], said: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse(words)
    assert said in str(refused.value)


def test_values_that_begin_with_a_minus_are_values() -> None:
    words = ["picture", ".", "--output", "a.png", "--from", "-1,0,0.5", "--up", "z", "--front", "-y"]
    options = parse(words)[1].options
    assert (options.side, options.front) == ((-1.0, 0.0, 0.5), "-y")
    assert parse(["fit", ".", "--lettering-box", "-.25,0,0.5,1"])[1].options.lettering_box == (-0.25, 0.0, 0.5, 1.0)


def test_no_words_reopen_the_last_folder_and_without_one_ask_for_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert parse([])[1].options.reopen
    run = meshqc()
    assert (run.returncode, run.stdout) == (2, "")
    assert "no folder was given" in run.stderr


def test_words_from_outside_are_shown_safely() -> None:
    for words in (
        ["\x1b[31mx"],
        [".", "--size", "\x1b]0;t\x07"],
        [".", "\x1b[2J"],
        [".", "--textures", "\udcff\u202e"],
    ):
        with pytest.raises(UsageError) as refused:
            parse(words)
        assert str(refused.value).isprintable()


def test_wrong_words_end_with_2() -> None:
    run = meshqc("check", ".", "--jsn")
    assert (run.returncode, run.stdout) == (2, "")
    assert_one_sentence(run.stderr)


def test_version() -> None:
    run = meshqc("--version")
    assert (run.returncode, run.stdout) == (0, f"meshqc {__version__} ({_native.description()})\n")


def test_version_names_the_path_that_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(_native.SWITCH, "0")
    run = meshqc("--version")
    assert (run.returncode, run.stdout.split(" ", 2)[2][:11]) == (0, "(NumPy only")


@pytest.mark.parametrize("words", [["--help"], ["check", "--help"], ["fix", "--help"], ["demo", "--help"]])
def test_help_is_quick_because_it_imports_nothing_heavy(words: list[str]) -> None:
    code = (
        "import sys\n"
        "from inspector.__main__ import main\n"
        "try:\n"
        f"    main({words!r})\n"
        "except SystemExit as end:\n"
        "    assert end.code == 0\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], env=environment(), capture_output=True, text=True, timeout=60, check=False
    )
    assert run.returncode == 0
    assert "meshqc" in run.stdout
    assert max(map(len, run.stdout.splitlines())) <= 80
    imported = set(run.stderr.split())
    assert "inspector" in imported
    assert not imported & {"numpy", "textual", "rich", "trimesh", "PIL"}


_NEEDLESS = {"multiprocessing", "textual", "trimesh", "tomllib", "xml", "inspector.formats.gltf.read"}


@pytest.mark.parametrize(
    ("program", "needless"),
    [
        ("main(['check', {folder!r}])", {*_NEEDLESS, "inspector.lettering.captions", "inspector.delivery.drafting"}),
        (
            "main(['picture', {folder!r}, '--picture', '64x36', '--output', {out!r}])",
            {*_NEEDLESS, "inspector.fixes.base.fix"},
        ),
        ("import inspector.tui.run", {"inspector.tui.screens.opened", "inspector.lettering.captions", "xml"}),
    ],
)
def test_a_short_run_imports_only_what_it_needs(program: str, needless: set[str], demo: Path, tmp_path: Path) -> None:
    said = program.format(folder=str(demo / "manta"), out=str(tmp_path / "manta.png"))
    code = f"import sys\nfrom inspector.__main__ import main\n{said}\nprint('\\n', *sys.modules, sep='\\n')"
    run = subprocess.run(
        [sys.executable, "-c", code], env=environment(), capture_output=True, text=True, timeout=60, check=True
    )
    imported = set(run.stdout.splitlines())
    assert "inspector.sequence.measure.facts" in imported
    assert not imported & needless


def test_help_names_every_command_and_exit_code() -> None:
    text = meshqc("--help").stdout
    for word in ("meshqc check FOLDER", "meshqc fix FOLDER --output OUT", "meshqc demo FOLDER"):
        assert word in text
    for line in ("  0  ", "  1  ", "  2  "):
        assert f"\n{line}" in text


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="the system doesn't list a process's threads")
def test_the_algebra_library_starts_no_threads() -> None:
    """Waiting threads would keep the processor busy and slow down other programs."""
    code = (
        "import os; from inspector.__main__ import main; main(['check', 'nowhere']); import numpy; "
        "many = numpy.ones((900, 900)); many @ many; print(len(os.listdir('/proc/self/task')))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], env=environment(), capture_output=True, text=True, check=True, timeout=120
    )
    assert run.stdout == "1\n"


@pytest.mark.parametrize(
    "words",
    [
        ["check", ""],
        ["compare", "{folder}", "--with", ""],
        ["fix", "{folder}", "--output", ""],
        ["check", "{folder}", "--textures", ""],
        ["merge", "{folder}", ""],
    ],
)
def test_an_empty_path_is_not_the_current_folder(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shell passes an empty path for `meshqc check "$SHOT"` if SHOT isn't set."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(UsageError, match="expected a path"):
        parse([word.format(folder=tmp_path) for word in words])
