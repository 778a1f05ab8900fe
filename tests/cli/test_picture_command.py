"""Tests of `meshqc picture`. PNGs are decoded with Pillow.

The view is 1.05 times as high as the object (inspector/picture/camera.py).
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from inspector.picture.canvas import DARK, GROUND
from tests.helpers.command import assert_one_sentence, digests, environment, meshqc
from tests.helpers.images import image_file
from tests.helpers.meshes import Mesh
from tests.helpers.pseudo_terminal import Terminal
from tests.helpers.sequences import frames, write
from tests.helpers.shapes import remapped, sheet_mesh, wall

NEEDS = "the surface of skin needs an aspect ratio of 1.78 to 1\n"

SHEET = sheet_mesh(wall(16, 9), 4, 5).edit(state=("usemtl skin",))
QUARTERS = np.array([[[250, 0, 0], [0, 250, 0]], [[0, 0, 250], [250, 250, 0]]], np.uint8).repeat(32, 0).repeat(32, 1)


def source(place: Path, numbers: tuple[int, ...] = (1, 2, 3, 4)) -> Path:
    return write(place / "in", frames(dict.fromkeys(numbers, SHEET)))


def decoded(path: Path) -> np.ndarray:
    with Image.open(path) as image:
        assert image.format == "PNG"
        return np.asarray(image.convert("RGB"))


def strongest(colour: np.ndarray) -> list[bool]:
    """Return, for red, green and blue, whether each is more than half as strong as the strongest. Shading doesn't
    change this."""
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
    said = f"caution: quarters.png is squeezed in height by a factor of 1.78; {NEEDS}"
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


@pytest.mark.parametrize("side", ["front", "right"])
def test_a_squeezed_texture_is_said_from_a_stated_side_too(tmp_path: Path, texture: Path, side: str) -> None:
    out = tmp_path / "out.png"
    words = ("--texture", texture, "--from", side, "--picture", "64x36", "--output", out)
    told = meshqc("picture", source(tmp_path, (1,)), *words)
    assert told.returncode == 0
    assert told.stderr == f"caution: quarters.png is squeezed in height by a factor of 1.78; {NEEDS}"


UNEVEN = remapped(SHEET, lambda u, v: (u**2, v))
"""A sheet whose four columns need textures with aspect ratios of 7.1, 2.4, 1.4 and 1.0 (calculated by hand).

Each column is 4 units wide and 9 units high, so the aspect ratio that it needs is 4 / 9 divided by the fraction of u
that it covers.
"""


@pytest.mark.parametrize(
    ("mesh", "size", "said"),
    [
        (
            SHEET,
            (64, 64),
            f"caution: own.png is squeezed in height by a factor of 1.78; {NEEDS}",
        ),
        (
            SHEET,
            (64, 30),
            f"caution: own.png is squeezed in width by a factor of 1.20; {NEEDS}",
        ),
        (SHEET, (64, 33), ""),
        (UNEVEN, (64, 64), ""),
    ],
)
def test_a_squeezed_map_of_its_own_is_said(mesh: Mesh, size: tuple[int, int], said: str, tmp_path: Path) -> None:
    """A map that suits part of the surface is accepted, because it may have been painted for that part."""
    head = mesh.edit(state=("mtllib manta.mtl", "usemtl skin"))
    folder = write(tmp_path / "in", frames({1: head}))
    (folder / "manta.mtl").write_text("newmtl skin\nmap_Kd own.png\n")
    Image.new("RGB", size, (200, 120, 40)).save(folder / "own.png")
    told = meshqc(
        "picture", folder, "--maps", "--from", "front", "--picture", "64x36", "--output", tmp_path / "out.png"
    )
    assert (told.returncode, told.stderr) == (0, said)


def test_the_grid_has_square_cells_on_the_sheet(tmp_path: Path) -> None:
    """A sheet of 16 by 9 units has 14 by 8 cells, which are 1.6 % wider than high."""
    out = tmp_path / "out.png"
    assert meshqc("picture", source(tmp_path), "--output", out).returncode == 0
    pixels = decoded(out)[..., 0].astype(int)
    assert pixels.shape == (1080, 1920)
    across, down = (_cell(np.percentile(pixels[100:-100, 100:-100], 75, axis=axis)) for axis in (0, 1))
    assert down == pytest.approx(1080 / 1.05 / 8, abs=1)
    assert across == pytest.approx(1920 / 1.05 / 14, abs=1)


def _cell(brightness: np.ndarray) -> float:
    inner = brightness[1:-1]
    dips = (inner < brightness[:-2]) & (inner <= brightness[2:]) & (inner < np.median(brightness) - 10)
    return float(np.median(np.diff(np.flatnonzero(dips))))


def pictures_of(sheet: np.ndarray, columns: int, rows: int, width: int, height: int) -> list[np.ndarray]:
    light = (sheet != DARK).any(axis=2).mean(axis=1) > 0.9
    tops = np.flatnonzero(light & ~np.roll(light, 1))
    assert len(tops) == rows
    return [
        sheet[top : top + height, 6 + at * (width + 6) : 6 + at * (width + 6) + width]
        for top in tops
        for at in range(columns)
    ]


def test_a_sheet_has_frames_across_and_textures_down(tmp_path: Path, texture: Path) -> None:
    other = tmp_path / "plain.png"
    Image.new("RGB", (8, 8), (0, 250, 250)).save(other)
    out = tmp_path / "out.png"
    words = ["--sheet", "3", "--texture", texture, "--texture", other, "--picture", "160x90", "--output", out]
    run = meshqc("picture", source(tmp_path), *words)
    assert "frames 1, 3, 4 of" in run.stdout
    pixels = decoded(out)
    assert pixels.shape[1] == 6 + 3 * 166
    first, second = [True, False, False], [False, True, True]
    lit = [strongest(one[20, 40]) for one in pictures_of(pixels, 3, 2, 160, 90)]
    assert lit == [first] * 3 + [second] * 3


def test_a_sheet_fits_a_page_and_many_textures_get_a_page_each(tmp_path: Path, texture: Path) -> None:
    folder = source(tmp_path, tuple(range(1, 10)))
    assert meshqc("picture", folder, "--sheet", "9", "--output", tmp_path / "page.png").returncode == 0
    height, width = decoded(tmp_path / "page.png").shape[:2]
    assert 1900 <= width <= 1920
    assert height <= 1250
    other = tmp_path / "other.png"
    other.write_bytes(texture.read_bytes())
    words = ["--sheet", "9", "--texture", texture, "--texture", other, "--picture", "80x45"]
    run = meshqc("picture", folder, *words, "--output", tmp_path / "two.png")
    assert run.returncode == 2
    assert "2 pages, one per texture, don't fit into a PNG" in run.stderr
    assert meshqc("picture", folder, *words, "--output", tmp_path / "two.pdf").returncode == 0
    assert len(re.findall(rb"/Type\s*/Page\b", (tmp_path / "two.pdf").read_bytes())) == 2


def test_versions_in_a_movie_share_a_picture_of_16_to_9(tmp_path: Path, texture: Path) -> None:
    """The movie is decoded by FFmpeg through PyAV."""
    other = tmp_path / "plain.png"
    Image.new("RGB", (8, 8), (0, 250, 250)).save(other)
    folder = write(
        tmp_path / "in", frames({n: SHEET.edit(positions=np.add(SHEET.positions, [n, 0, 0])) for n in range(1, 7)})
    )
    words = ["--animate", "--fps", "25", "--texture", texture, "--texture", other]
    assert meshqc("picture", folder, *words, "--output", tmp_path / "out.mp4").returncode == 0
    with av.open(tmp_path / "out.mp4") as container:
        stream = container.streams.video[0]
        shown = [frame.to_ndarray(format="rgb24") for frame in container.decode(stream)]
        assert stream.average_rate == 25
    assert len(shown) == 6
    for picture in (shown[0], shown[-1]):
        assert picture.shape == (720, 1280, 3)
        left, right = picture[:, :640].astype(int), picture[:, 640:].astype(int)
        assert ((left[..., 0] > 90) & (left[..., 1] < 60)).mean() > 0.005  # red, only in the first texture
        assert ((right[..., 2] > 90) & (right[..., 0] < 60)).mean() > 0.02  # cyan, only in the second texture
        assert ((left[..., 2] > 90) & (left[..., 1] > 90)).mean() < 0.01  # except for the letters
    assert np.abs(shown[0].astype(int) - shown[-1]).max() > 100  # the sheet moves


@pytest.mark.parametrize(("up", "colour"), [("y", (120, 196, 110)), ("z", (104, 156, 240))])
def test_the_sign_shows_which_axis_is_taken_to_point_up(tmp_path: Path, up: str, colour: tuple[int, ...]) -> None:
    out = tmp_path / "out.png"
    words = ["--plain", "--from", "front", "--up", up, "--picture", "640x360", "--output", out]
    assert meshqc("picture", source(tmp_path), *words).returncode == 0
    corner = decoded(out)[-108:, :108].astype(int)
    there = np.argwhere((np.abs(corner - colour) < 8).all(axis=2))
    assert len(there) > 20
    shaft = there[np.abs(there[:, 1] - 54) <= 1]
    assert shaft[:, 0].min() < 54 - 20
    assert shaft[:, 0].max() <= 54 + 4


def test_a_normal_map_is_seen_in_the_light(tmp_path: Path) -> None:
    left, right = ((np.array([x, 0, 0.8]) + 1) * 127.5 for x in (-0.6, 0.6))
    image = np.zeros((32, 64, 3), np.uint8)
    image[:, :32], image[:, 32:] = left.round(), right.round()
    normals = tmp_path / "normals.png"
    Image.fromarray(image).save(normals)
    out = tmp_path / "out.png"
    words = ["--normal-map", normals, "--from", "front", "--picture", "640x360", "--output", out]
    run = meshqc("picture", source(tmp_path), *words)
    assert (run.returncode, run.stderr) == (0, "")
    pixels = decoded(out)
    assert pixels[150, 160].mean() > 1.5 * pixels[150, 480].mean()


def test_own_maps_and_a_closeup_of_the_lettering(tmp_path: Path, demo: Path) -> None:
    own = ("--maps", "--material", "buoy_label", "--picture", "320x180")
    shares = []
    for name, words in (("whole", ()), ("close", ("--closeup",))):
        out = tmp_path / f"{name}.png"
        run = meshqc("picture", demo / "buoy", *own, *words, "--output", out)
        assert (run.returncode, run.stderr) == (0, "")
        shares.append((np.ptp(decoded(out).astype(int), axis=2) > 30).mean())
    assert 0.05 < shares[0] < 0.5
    assert shares[1] > 2 * shares[0]


def test_a_moving_picture_keeps_its_time_over_missing_frames(tmp_path: Path) -> None:
    """Frames 1, 2 and 5 at 10 fps last 0.5 s: 0.4 s from frame 1 to 5, and 0.1 s for frame 5."""
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
    """The sheet alternates with a copy that is too small to be visible. At 4 fps, the flashes are too few for a
    caution."""
    far = SHEET.edit(positions=SHEET.positions * 1e-3)
    folder = write(tmp_path / "in", frames({n: SHEET if n % 2 else far for n in range(1, 25)}))
    words = ["--animate", "--plain", "--from", "front", "--picture", "80x45"]
    run = meshqc("picture", folder, *words, "--output", tmp_path / "a.png")
    assert run.returncode == 0
    assert run.stderr.startswith("caution: from frame 2 on, the picture flashes")
    assert meshqc("picture", folder, *words, "--fps", "4", "--output", tmp_path / "b.png").stderr == ""


def test_what_is_refused_is_said_and_nothing_is_written(tmp_path: Path, texture: Path) -> None:
    folder = source(tmp_path)
    taken = write(tmp_path, {"taken.png": image_file(QUARTERS)}) / "taken.png"
    bad = write(tmp_path, {"bad.png": b"no picture"}) / "bad.png"
    kept = digests(tmp_path)
    out = tmp_path / "out.png"
    for words, said in (
        (["--output", taken], "already exists"),
        (["--texture", texture, "--output", texture], "already exists"),
        (["--output", folder / "new.png"], "never written to"),
        (["--output", tmp_path / "out.jpg"], "must end in .png or .pdf"),
        (["--output", tmp_path / "out.jpg", "--animate"], "must end in .png, .gif, .webp or .mp4"),
        (["--output", tmp_path / "out.webp"], "a format for movies; add --animate"),
        (["--output", out, "--plain", "--maps"], "leave out --maps"),
        (["--output", out, "--frame", "9"], "frame 9 can't be drawn: missing, unreadable or empty"),
        (["--output", out, "--texture", bad], "can't be read as an image"),
        (["--output", out, "--texture", tmp_path / "none.png"], "is not a file"),
        (["--output", out, "--plain", "--texture", texture], "leave out --texture"),
        (["--output", out, "--fps", "10"], "need --animate"),
        (
            ["--output", out, "--sheet", "4", "--picture", "3840x2160", *["--texture", texture] * 9],
            "too many for one file",
        ),
        (["--output", out, "--sheet", "0"], "above 0"),
        (["--output", out, "--material", "tail"], "no material with UVs is named `tail`"),
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
    assert "no UVs, so the surface is drawn without a texture" in run.stderr
    assert not (decoded(out) == GROUND).all()
    run = meshqc("picture", demo / "kelp_broken", "--texture", texture, "--output", tmp_path / "b.png")
    assert "no UVs, so no texture can be shown" in run.stderr


def test_ctrl_c_leaves_nothing(tmp_path: Path, demo: Path) -> None:
    words = ["--animate", "--picture", "1280x720", "--output", tmp_path / "out.png"]
    terminal = Terminal("picture", demo / "manta", *words)
    terminal.read_until(b"drawing")
    terminal.process.send_signal(signal.SIGINT)
    assert terminal.end() == 2
    assert b"meshqc: stopped" in terminal.seen
    assert list(tmp_path.iterdir()) == []


def movie_of(folder: Path, out: Path) -> int:
    words = ["picture", folder, "--animate", "--plain", "--from", "front", "--fps", "25", "--output", out]
    child = subprocess.Popen([sys.executable, "-m", "inspector", *map(str, words)], env=environment())
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    assert child.returncode == 0
    return used.ru_maxrss * 1024


@pytest.mark.slow
@pytest.mark.timeout(1800)
def test_two_thousand_frames_take_no_more_memory_than_two_hundred(tmp_path: Path) -> None:
    """The pictures of 1,800 additional frames would take 1.2 GB. The movie is decoded by FFmpeg."""
    peaks = {}
    for count in (200, 2000):
        meshes = {n: SHEET.edit(positions=np.add(SHEET.positions, [8 * n / count, 0, 0])) for n in range(1, count + 1)}
        folder = write(tmp_path / f"in{count}", frames(meshes))
        peaks[count] = movie_of(folder, tmp_path / f"{count}.mp4")
    print({count: f"{peak / 1e6:.0f} MB" for count, peak in peaks.items()})
    assert peaks[2000] < peaks[200] + 60e6
    seen, first, last = 0, None, None
    with av.open(tmp_path / "2000.mp4") as container:
        stream = container.streams.video[0]
        assert stream.average_rate == 25
        for frame in container.decode(stream):
            seen += 1
            if first is None:
                first = frame.to_ndarray(format="rgb24")
            last = frame
    assert seen == 2000
    assert first is not None
    assert last is not None
    end = last.to_ndarray(format="rgb24")
    assert first.shape == end.shape == (360, 640, 3)
    lefts = [np.flatnonzero(picture[180].astype(int).min(axis=1) > 80)[0] for picture in (first, end)]
    assert lefts[1] - lefts[0] == pytest.approx(640 / 1.05 * 8 / 24, abs=12)  # 8 of the 24 units of the whole motion
