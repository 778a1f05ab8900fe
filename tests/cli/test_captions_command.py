"""`meshqc captions` on the demo's buoy: the list, the textures, and the gate."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.__main__ import main
from tests.helpers.command import assert_one_sentence, digests, meshqc
from tests.helpers.images import image_file

SMALL = ("--picture", "960x540")


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    """The command in this process: exit code, stdout, stderr."""
    code = main(["captions", *map(str, words)])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_the_whole_way_on_the_buoy(demo: Path, tmp_path: Path) -> None:
    """One version is too pale and fails the gate; the others pass. The sources stay as they are."""
    buoy, out = demo / "buoy", tmp_path / "out"
    before = digests(demo)
    first = meshqc("captions", buoy, *SMALL, "--output", out, "--fail-on", "unreadable")
    assert (first.returncode, first.stderr) == (1, "")
    verdicts = [line.split(maxsplit=1)[1] for line in first.stdout.splitlines() if "verdict" in line]
    assert verdicts == [
        "readable in frames 1-8",
        "readable in frames 1-8",
        "unreadable in all of frames 1-8: too little contrast to the ground",
    ]
    assert first.stdout.endswith(f"{out}/en.png\n{out}/de.png\n{out}/el.png\n")
    assert "left 32, top 28, right 448, bottom 172 in pixels of\n" in first.stdout
    assert digests(demo) == before
    with Image.open(out / "en.png") as image:
        texture = np.asarray(image.convert("L"))
    assert texture.shape[1] / texture.shape[0] == pytest.approx(480 / 200, rel=2e-3)
    again = meshqc("captions", buoy, *SMALL, "--output", out)
    assert again.returncode == 2
    assert_one_sentence(again.stderr)


def test_the_gate_passes_on_the_others(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = (demo / "buoy", *SMALL, "--fail-on", "unreadable", "--json")
    code, text, _ = run(capsys, *words, "--version", "en", "--version", "de")
    assert code == 0
    versions = json.loads(text)["versions"]
    assert [version["name"] for version in versions] == ["en", "de"]
    frames = versions[0]["frames"]
    assert [frame["mark"] for frame in frames[:8]] == ["R"] * 8
    assert {frame["mark"] for frame in frames[16:]} == {"H"}, "the lantern"
    assert [frame["wanted"] for frame in frames] == [True] * 8 + [False] * 16
    assert all(frame["contrast"] > 14 for frame in frames if frame["contrast"])


def test_what_does_not_fit_is_refused_and_nothing_is_written(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = demo / "buoy" / "captions.toml"
    large = tmp_path / "large.toml"
    large.write_text(file.read_text().replace("[defaults]\n", "[defaults]\nheight = 120\n"))
    words = (demo / "buoy", *SMALL, "--captions", large, "--textures", demo / "buoy")
    words = (*words, "--version", "en")
    large.write_text(large.read_text().replace('base = "textures/buoy_label.png"\n', ""))
    code, text, _ = run(capsys, *words)
    assert code == 0
    assert "verdict   does not fit: " in text
    code, text, told = run(capsys, *words, "--output", tmp_path / "out")
    assert (code, text) == (2, "")
    assert "nothing was written: en: " in told
    assert "pixels too wide" in told
    assert not (tmp_path / "out").exists()


def test_the_box_of_existing_artwork(demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two maps of 480 x 200 that differ from column 100 to 299 and from row 50 to 99."""
    plain = np.full((200, 480, 3), 240, np.uint8)
    lettered = plain.copy()
    lettered[50:100, 100:300] = 20
    lettered[5, 5] -= 3  # noise of a lossy file
    for name, pixels in (("a", plain), ("b", lettered)):
        (tmp_path / f"{name}.png").write_bytes(image_file(pixels))
    pair = (tmp_path / "a.png", tmp_path / "b.png")
    code, text, _ = run(
        capsys, demo / "buoy", *SMALL, "--material", "buoy_label", "--box-from", *pair, "--version", "en"
    )
    assert code == 0
    assert "artwork differs in the box left 100, top 50, right 300, bottom 100 in pixels" in text.replace("\n", " ")
    code, _, told = run(capsys, demo / "buoy", *SMALL, "--box-from", pair[0], pair[0])
    assert code == 2
    assert "do not differ" in told
    (tmp_path / "c.png").write_bytes(image_file(plain[:100]))
    code, _, told = run(capsys, demo / "buoy", *SMALL, "--box-from", pair[0], tmp_path / "c.png")
    assert "have different sizes, 480 x 200 and 480 x 100" in told


def test_without_a_captions_file_the_boxes_are_listed(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, text, _ = run(capsys, demo / "manta", *SMALL)
    assert code == 0
    assert "  island 1 of manta_skin: left " in text
    code, _, told = run(capsys, demo / "manta", *SMALL, "--fail-on", "unreadable")
    assert code == 2
    assert "no captions.toml beside the frames" in told


def test_a_mistake_in_the_file_is_one_sentence(demo: Path, tmp_path: Path) -> None:
    file = tmp_path / "captions.toml"
    file.write_text('[[version]]\nname = "a"\ntexts = "\x1b[31mA"\ncolor = "#000000"\n')
    told = meshqc("captions", demo / "buoy", "--captions", file)
    assert told.returncode == 2
    assert_one_sentence(told.stderr)
