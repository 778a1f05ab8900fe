"""Tests of printed commands: a shell runs only our command, regardless of the folder's name."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import pytest
from pxr import Usd, UsdGeom

from inspector.__main__ import main
from inspector.names import safe
from inspector.report.command_options import quoted_word
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import shot, write

NAMES = (
    "$(touch ran) `touch ran` ; touch ran & touch ran | touch ran #",
    "it's; touch ran; '\"; touch ran; \"",
    "--output=$HOME ~ * ?[a]{b,c} > ran",
    "a  b \\",
    "check",
)
COMMAND = re.compile(r"(?:next: |  or: |details: |to write the frames: |correct it: |correct: )(meshqc .*)")


def run_printed(text: str, folder: Path) -> list[list[str]]:
    """Run the printed commands in a shell in which `meshqc` only logs its arguments. Return the arguments of each
    call."""
    tools, log = folder / ".tools", folder / ".log"
    tools.mkdir(exist_ok=True)
    (tools / "meshqc").write_text(f"#!/bin/sh\nprintf '%s\\0' \"$@\" >> {log}\nprintf '\\1' >> {log}\n")
    (tools / "meshqc").chmod(0o755)
    found = COMMAND.findall(text)
    before = set(os.listdir(folder))
    log.write_text("")
    for line in found:
        environment = {"PATH": f"{tools}:{os.environ['PATH']}", "HOME": str(folder / "home")}
        run = subprocess.run(
            ["sh", "-c", line], cwd=folder, env=environment, capture_output=True, text=True, check=False, timeout=120
        )
        assert (run.returncode, run.stdout, run.stderr) == (0, "", ""), line
    assert set(os.listdir(folder)) - before == {".log"} - before, "something else ran"
    return [call.split("\0")[:-1] for call in log.read_text().split("\1")[:-1]]


def test_another_command_would_be_noticed(tmp_path: Path) -> None:
    assert run_printed("next: meshqc check 'a b'", tmp_path) == [["check", "a b"]]
    with pytest.raises(AssertionError, match="something else ran"):
        run_printed("next: meshqc check $(touch ran)", tmp_path)


@pytest.mark.parametrize("name", [NAMES[0], *(pytest.param(name, marks=pytest.mark.slow) for name in NAMES[1:])])
def test_a_copied_command_runs_only_ours(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    folder, out = f"./{name}", f"./{name} out"
    write(tmp_path / name, shot({5: turned}, range(1, 7)))
    stage = Usd.Stage.CreateNew(str(tmp_path / name / "kelp.usda"))
    UsdGeom.Mesh.Define(stage, "/kelp").CreatePointsAttr().Set([(0, 0, 0), (1, 0, 0), (0, 900, 0)])
    stage.Save()
    for words, named in (
        (["check", folder], folder),
        (["watch", folder, "--until", "6"], folder),
        (["fix", folder, "--output", out, "--only", "scale:factor=2"], out),
        (["unpack", f"{folder}/kelp.usda"], f"{folder}/kelp.usda"),
    ):
        main(words)
        said = capsys.readouterr()
        calls = run_printed(said.out + said.err, tmp_path)
        assert calls, (words, said)
        assert all(any(Path(word).resolve() == Path(named).resolve() for word in call) for call in calls[:1]), calls


def turned(mesh: Mesh) -> Mesh:
    """Reverse all faces. A lossless fix corrects this."""
    return mesh.edit(faces=tuple(face[::-1] for face in mesh.faces))


@pytest.mark.parametrize("word", ["a\nb", "\x1b[31m'red\\", "caf\u00e9 \u202e", os.fsdecode(b"\xff x"), "-x", "a b"])
def test_a_word_that_no_screen_may_show_is_still_that_word(word: str) -> None:
    """A word with control characters is printed as `$'...'` with octal escapes (POSIX.1-2024, 2.2.4, and bash)."""
    printed = quoted_word(word)
    assert safe(printed) == printed
    run = subprocess.run(["bash", "-c", f"printf %s {printed}"], capture_output=True, check=True, timeout=20)
    assert run.stdout == os.fsencode(word)


def test_words_that_are_no_paths_stay_as_they_are() -> None:
    assert quoted_word("check") == "check"
