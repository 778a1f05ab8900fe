"""Tests of `meshqc captions`."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from inspector.__main__ import main
from tests.helpers.captioned import CAPTIONS, LIBRARY, SHEET, STATE, lettered_folder
from tests.helpers.command import assert_one_sentence, digests, meshqc
from tests.helpers.images import image_file
from tests.helpers.sequences import frames, write

SMALL = ("--picture", "480x270")


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lettered_folder(tmp_path_factory.mktemp("sheets") / "shot")


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    code = main(["captions", *map(str, words)])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_the_whole_way_on_the_buoy(demo: Path, tmp_path: Path) -> None:
    buoy, out = demo / "buoy", tmp_path / "out"
    before = digests(demo)
    words = ("--picture", "480x270", "--output", out, "--fail-on", "unreadable")
    told = meshqc("captions", buoy, *words)
    assert (told.returncode, told.stderr) == (1, "")
    verdicts = [line.split(maxsplit=1)[1] for line in told.stdout.splitlines() if "verdict" in line]
    assert verdicts == [
        "readable in the required frames 1-8",
        "readable in the required frames 1-8",
        "unreadable in all of the required frames 1-8: too little contrast",
    ]
    strips = [line.strip() for line in told.stdout.splitlines() if line.strip().startswith(("RRRR", "CCCC"))]
    assert {strip[-8:] for strip in strips} == {"H" * 8}, "the lantern"
    assert told.stdout.endswith(f"{out}/en.png\n{out}/de.png\n{out}/el.png\n")
    assert "left 32, top 28, right 448, bottom 172, in pixels from the top\n" in told.stdout
    assert digests(demo) == before
    with Image.open(out / "en.png") as image:
        assert image.width / image.height == pytest.approx(480 / 200, rel=5e-3)


def test_the_gate(sheets: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = (sheets, *SMALL, "--fail-on", "unreadable", "--json")
    code, text, _ = run(capsys, *words, "--version", "en", "--output", tmp_path / "out")
    assert code == 0
    (version,) = json.loads(text)["versions"]
    assert [frame["mark"] for frame in version["frames"]] == ["R", "R", "F"]
    assert [frame["reads"] for frame in version["frames"]] == ["HELLO", "HELLO", "_____"]
    assert [frame["wanted"] for frame in version["frames"]] == [True, True, False]
    assert [frame["contrast"] for frame in version["frames"]] == [21.0, 21.0, None]
    code, _, told = run(capsys, *words, "--output", tmp_path / "out")
    assert code == 2
    assert "already exists" in told
    code, text, _ = run(capsys, *words)
    assert code == 1
    assert [version["readable"] for version in json.loads(text)["versions"]] == [True, False]


def test_the_verdict_on_a_single_frame(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, verdict in (("1", "readable in the required frame 1\n"), ("3", "unreadable in the required frame 3: ")):
        folder = lettered_folder(tmp_path / number, CAPTIONS.replace('"1-2"', f'"{number}-{number}"'))
        _, text, _ = run(capsys, folder, *SMALL, "--version", "en")
        assert f"verdict   {verdict}" in text


def test_the_size_of_the_texture(sheets: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sheet fills its texture, so the texture is as wide in pixels as the sheet is in the picture, but not smaller
    than the colour map of 320 x 180 pixels."""
    for width, size in (("480", [480, 270]), ("160", [320, 180])):
        _, text, _ = run(capsys, sheets, "--fill-width", width, "--version", "en", "--json")
        assert json.loads(text)["versions"][0]["size"] == size


def test_what_does_not_fit_is_refused_and_nothing_is_written(
    sheets: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    large = tmp_path / "large.toml"
    large.write_text(CAPTIONS.replace("[defaults]\n", "[defaults]\nheight = 58\n"))
    words = (sheets, *SMALL, "--captions", large, "--version", "en")
    code, text, _ = run(capsys, *words)
    assert code == 0
    assert "verdict   does not fit: " in text
    code, text, told = run(capsys, *words, "--output", tmp_path / "out")
    assert (code, text) == (2, "")
    assert "nothing was written: en: " in told
    assert "pixels too wide" in told
    assert not (tmp_path / "out").exists()


def test_what_the_map_loses_is_said_and_its_profile_is_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = lettered_folder(tmp_path / "shot")
    deep = np.full((180, 320), 65535, np.uint16)
    Image.fromarray(deep).save(folder / "base.png")
    words = (folder, *SMALL, "--version", "en")
    _, text, _ = run(capsys, *words)
    assert "lost the base map has 16 bits per channel, but the rendered texture has 8" in " ".join(text.split())
    _, _, told = run(capsys, *words, "--output", tmp_path / "deep")
    assert "note: base.png: the base map has 16 bits per channel, but the rendered texture has 8" in told
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    Image.new("RGB", (320, 180), (255, 255, 255)).save(folder / "base.png", icc_profile=profile)
    _, text, told = run(capsys, *words, "--output", tmp_path / "rgb")
    assert "ICC profile is kept" in text
    assert told == ""
    with Image.open(tmp_path / "rgb" / "en.png") as image:
        assert image.info["icc_profile"] == profile


def test_the_box_of_existing_artwork(sheets: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = np.full((200, 480, 3), 240, np.uint8)
    lettered = plain.copy()
    lettered[50:100, 100:300] = 20
    lettered[5, 5] -= 3  # noise, as in a lossy file
    for name, pixels in (("a", plain), ("b", lettered)):
        (tmp_path / f"{name}.png").write_bytes(image_file(pixels))
    pair = (tmp_path / "a.png", tmp_path / "b.png")
    code, text, _ = run(capsys, sheets, *SMALL, "--box-from", *pair, "--version", "en")
    assert code == 0
    assert "artwork differs in the box left 100, top 50, right 300, bottom 100, in pixels" in text.replace("\n", " ")
    code, _, told = run(capsys, sheets, *SMALL, "--box-from", pair[0], pair[0])
    assert code == 2
    assert "by more than 8 (on a scale from 0 to 255)" in told
    (tmp_path / "c.png").write_bytes(image_file(plain[:100]))
    code, _, told = run(capsys, sheets, *SMALL, "--box-from", pair[0], tmp_path / "c.png")
    assert "have different sizes (480 x 200 and 480 x 100" in told


def test_without_a_captions_file_the_boxes_are_listed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = lettered_folder(tmp_path / "shot")
    (folder / "captions.toml").unlink()
    code, text, _ = run(capsys, folder, *SMALL)
    assert code == 0
    assert "  island 0 of skin: left 0, top 0, " in text
    code, _, told = run(capsys, folder, *SMALL, "--fail-on", "unreadable")
    assert code == 2
    assert "no captions.toml beside the frames" in told


def test_without_a_safe_box_no_box_is_mentioned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = "v 0 0 0\nv %s 0 0\nv %s 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nf 1/1 2/2 3/3 4/4\n"
    for number, width in ((1, 1), (2, 20)):
        (tmp_path / f"kelp.{number:04}.obj").write_text(sheet % (width, width))
    code, text, _ = run(capsys, tmp_path, *SMALL)
    assert code == 0
    assert "no box is safe in all frames" in text
    assert "boxes above" not in text


def test_a_mistake_in_the_file_is_one_sentence(sheets: Path, tmp_path: Path) -> None:
    file = tmp_path / "captions.toml"
    file.write_text('[[version]]\nname = "a"\ntexts = "\x1b[31mA"\ncolor = "#000000"\n')
    told = meshqc("captions", sheets, "--captions", file)
    assert told.returncode == 2
    assert_one_sentence(told.stderr)


def test_the_delivery_rules_state_the_picture_here_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = lettered_folder(tmp_path / "shot")
    (folder / "meshqc.toml").write_text('[captions]\npicture = "96x54"\n')
    words = (folder, "--version", "en", "--fail-on", "unreadable")
    code, text, _ = run(capsys, *words)
    assert code == 1
    assert "too small (12 pixels" in text
    assert "picture 96 pixels wide and 54 high" in " ".join(text.split())
    for more in (("--picture", "1920x1080"), ("--no-rules",)):
        code, text, _ = run(capsys, *words, *more)
        assert code == 0
        assert "picture 1920 pixels wide and 1080 high" in " ".join(text.split())


def test_the_delivery_rules_state_what_is_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Up in the scene, +z, is down in the texture, so the lettering must be upside down."""
    turn = np.array([[-1.0, 0, 0], [0, 0, -1], [0, -1, 0]])  # x to -x, y to -z, z to -y, for a camera at -y
    wall = SHEET.edit(positions=SHEET.positions @ turn.T, state=STATE)
    folder = write(tmp_path / "shot", LIBRARY | {"captions.toml": CAPTIONS.encode()} | frames({1: wall, 2: wall}))
    words = (folder, *SMALL, "--version", "en", "--json")
    _, text, _ = run(capsys, *words, "--up", "z", "--output", tmp_path / "stated")
    (folder / "meshqc.toml").write_text('[scene]\nup = "z"\nheight = 9\n')
    assert run(capsys, *words, "--output", tmp_path / "ruled")[1].replace("ruled", "stated") == text
    pictures = [(tmp_path / name / "en.png").read_bytes() for name in ("stated", "ruled")]
    assert pictures[0] == pictures[1]
    plain = lettered_folder(tmp_path / "plain")
    run(capsys, plain, *SMALL, "--version", "en", "--output", tmp_path / "upright")
    upright, turned = (
        np.asarray(Image.open(tmp_path / name / "en.png").convert("L"), int) for name in ("upright", "ruled")
    )
    assert np.abs(upright - turned[::-1, ::-1]).mean() < 1.0
    assert np.abs(upright - turned).mean() > 5.0
