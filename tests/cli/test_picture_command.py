"""`meshqc picture` as a user runs it; PNGs decoded with pillow and checked at known pixels. A sheet of 16 by 9 that is
looked at head on, framed with a margin of a twentieth (inspector/picture/camera.py), takes 1 / 1.05 of the picture."""

from __future__ import annotations

import signal
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.picture.canvas import GROUND
from tests.cli.test_terminal import Terminal
from tests.helpers.command import assert_one_sentence, digests, meshqc
from tests.helpers.images import image_file
from tests.helpers.sequences import frames, write
from tests.helpers.shapes import sheet_mesh, wall

SHEET = sheet_mesh(wall(16, 9), 4, 5).edit(state=("usemtl skin",))
QUARTERS = np.array([[[250, 0, 0], [0, 250, 0]], [[0, 0, 250], [250, 250, 0]]], np.uint8).repeat(32, 0).repeat(32, 1)
"""Red and green above, blue and yellow below."""


def source(place: Path, numbers: tuple[int, ...] = (1, 2, 3, 4)) -> Path:
    return write(place / "in", frames(dict.fromkeys(numbers, SHEET)))


def decoded(path: Path) -> np.ndarray:
    with Image.open(path) as image:
        assert image.format == "PNG"
        return np.asarray(image.convert("RGB"))


def strongest(colour: np.ndarray) -> list[bool]:
    """Which of red, green and blue are lit: shading darkens all alike."""
    return (colour > 0.5 * colour.max()).tolist()


@pytest.fixture(scope="module")
def texture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("texture") / "quarters.png"
    Image.fromarray(QUARTERS).save(path)
    return path


def test_a_texture_lies_on_the_sheet_at_known_pixels(tmp_path: Path, texture: Path) -> None:
    out = tmp_path / "out.png"
    folder = source(tmp_path)
    before = digests(folder)
    run = meshqc("picture", folder, "--texture", texture, "--picture", "640x360", "--output", out)
    said = "caution: quarters.png is squeezed in height by 1.78; the surface of skin wants 1.78 to 1\n"
    assert (run.returncode, run.stderr) == (0, said)
    assert run.stdout == f"{out}: frame 1 of manta.####.obj\n"
    pixels = decoded(out)
    assert pixels.shape == (360, 640, 3)
    for row, column, lit in (
        (90, 160, [True, False, False]),
        (90, 480, [False, True, False]),
        (270, 160, [False, False, True]),
        (270, 480, [True, True, False]),
    ):
        assert strongest(pixels[row, column]) == lit
    ground = (pixels == GROUND).all(axis=2)
    margin = (1 - 1 / 1.05) / 2
    assert np.flatnonzero(~ground[180])[0] == pytest.approx(640 * margin, abs=1)
    assert np.flatnonzero(~ground[:, 320])[0] == pytest.approx(360 * margin, abs=1)
    assert digests(folder) == before


def test_the_grid_has_square_cells_on_the_sheet(tmp_path: Path) -> None:
    """Lines between cells are dark along the whole sheet. 16 by 9 takes 14 by 8 cells, 1.6 % off square."""
    out = tmp_path / "out.png"
    assert meshqc("picture", source(tmp_path), "--output", out).returncode == 0
    pixels = decoded(out)[..., 0].astype(int)
    assert pixels.shape == (1080, 1920)
    across, down = (_cell(np.percentile(pixels[100:-100, 100:-100], 75, axis=axis)) for axis in (0, 1))
    assert down == pytest.approx(1080 / 1.05 / 8, abs=1)
    assert across == pytest.approx(1920 / 1.05 / 14, abs=1)


def _cell(brightness: np.ndarray) -> float:
    """Pixels from line to line: from each dip to the next."""
    inner = brightness[1:-1]
    dips = (inner < brightness[:-2]) & (inner <= brightness[2:]) & (inner < np.median(brightness) - 10)
    return float(np.median(np.diff(np.flatnonzero(dips))))


def test_a_sheet_of_frames_and_versions(tmp_path: Path, texture: Path) -> None:
    """Two versions of two frames stand side by side: four pictures of 160 x 90 in a row, 6 pixels apart."""
    other = tmp_path / "plain.png"
    Image.new("RGB", (8, 8), (0, 250, 250)).save(other)
    out = tmp_path / "out.png"
    words = ["--sheet", "2", "--texture", texture, "--texture", other, "--picture", "160x90", "--output", out]
    run = meshqc("picture", source(tmp_path), *words)
    assert "frames 1, 4 of" in run.stdout
    pixels = decoded(out)
    assert pixels.shape[1] == 6 + 4 * 166
    for place, lit in enumerate(([True, False, False], [False, True, True]) * 2):
        assert strongest(pixels[6 + 20, 6 + place * 166 + 40]) == lit


def test_a_moving_picture_keeps_its_time_over_missing_frames(tmp_path: Path) -> None:
    """Frames 1, 2 and 5 at 10 a second: from 1 to 5 it is 0.4 s, and 5 itself is shown for 0.1 s."""
    out = tmp_path / "out.png"
    meshes = {n: SHEET.edit(positions=np.add(SHEET.positions, [n, 0, 0])) for n in (1, 2, 5)}
    folder = write(tmp_path / "in", frames(meshes))
    run = meshqc("picture", folder, "--animate", "--fps", "10", "--picture", "80x45", "--output", out)
    assert (run.returncode, run.stderr) == (0, "")
    with Image.open(out) as image:
        assert image.is_animated
        times = []
        for number in range(image.n_frames):
            image.seek(number)
            times.append(image.info["duration"])
    assert sum(times) == pytest.approx(500)


def test_flashing_is_cautioned_about(tmp_path: Path) -> None:
    """A sheet that comes and goes with every frame, at 24 a second; at 4 a second it is slow enough."""
    far = SHEET.edit(positions=SHEET.positions * 1e-3)
    folder = write(tmp_path / "in", frames({n: SHEET if n % 2 else far for n in range(1, 25)}))
    words = ["--animate", "--plain", "--from", "front", "--picture", "80x45"]
    run = meshqc("picture", folder, *words, "--output", tmp_path / "a.png")
    assert run.returncode == 0
    assert run.stderr.startswith("caution: from frame 2 on the picture flashes")
    assert meshqc("picture", folder, *words, "--fps", "4", "--output", tmp_path / "b.png").stderr == ""


def test_what_is_refused_is_said_and_nothing_is_written(tmp_path: Path, texture: Path) -> None:
    folder = source(tmp_path)
    taken = write(tmp_path, {"taken.png": image_file(QUARTERS)}) / "taken.png"
    bad = write(tmp_path, {"bad.png": b"no picture"}) / "bad.png"
    kept = digests(tmp_path)
    out = tmp_path / "out.png"
    for words, said in (
        (["--output", taken], "is there already"),
        (["--texture", texture, "--output", texture], "is there already"),
        (["--output", folder / "new.png"], "only read"),
        (["--output", tmp_path / "out.jpg"], "ends in .png"),
        (["--output", out, "--frame", "9"], "no readable frame 9"),
        (["--output", out, "--texture", bad], "not a picture"),
        (["--output", out, "--texture", tmp_path / "none.png"], "is not a file"),
        (["--output", out, "--plain", "--texture", texture], "leave out --texture"),
        (["--output", out, "--fps", "10"], "need --animate"),
        (
            ["--output", out, "--sheet", "4", "--picture", "3840x2160", *["--texture", texture] * 9],
            "too many for one file",
        ),
        (["--output", out, "--sheet", "0"], "above 0"),
        (["--output", out, "--material", "tail"], "no material of that name"),
    ):
        run = meshqc("picture", folder, *words)
        assert run.returncode == 2
        assert_one_sentence(run.stderr)
        assert said in run.stderr
    assert digests(tmp_path) == kept


def test_without_uvs_the_surface_is_drawn_plain(tmp_path: Path, demo: Path, texture: Path) -> None:
    out = tmp_path / "out.png"
    run = meshqc("picture", demo / "kelp_broken", "--picture", "90x160", "--output", out)
    assert run.returncode == 0
    assert "it has no UVs, so the surface is drawn plain" in run.stderr
    assert not (decoded(out) == GROUND).all()
    run = meshqc("picture", demo / "kelp_broken", "--texture", texture, "--output", tmp_path / "b.png")
    assert "it has no UVs, so no texture can be shown" in run.stderr


def test_ctrl_c_leaves_nothing(tmp_path: Path, demo: Path) -> None:
    words = ["--animate", "--picture", "1280x720", "--output", tmp_path / "out.png"]
    terminal = Terminal("picture", demo / "manta", *words)
    terminal.read_until(b"drawing")
    terminal.process.send_signal(signal.SIGINT)
    assert terminal.end() == 2
    assert b"meshqc: stopped" in terminal.seen
    assert list(tmp_path.iterdir()) == []
