"""Tests of existing maps. Most of these maps are PNG files without pixels. The others are written with Pillow.

The limits for the size and the aspect ratio of a map follow common practice (no source).
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from inspector.lettering.maps_fit import MapFit, judge_maps, picture_size
from inspector.lettering.texture_fit import fit_texture
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import MaterialResolver
from tests.helpers.images import png_header
from tests.helpers.sequences import Files
from tests.helpers.shapes import series_of, sheet_mesh, wall

SHEET = sheet_mesh(wall(16, 9), 2, 2).edit(head=("mtllib manta.mtl",), state=("usemtl skin",))
WANTED = 120.0  # pixels per scene unit: 1920 x 1080 on the sheet of 16 by 9


def picture(width: int, height: int, kind: str = "PNG") -> bytes:
    stream = BytesIO()
    Image.new("L", (width, height)).save(stream, kind)
    return stream.getvalue()


def judged(folder: Path, *maps: bytes, others: Files | None = None) -> tuple[MapFit, ...]:
    statements = ("map_Kd", "map_Ks", "bump")
    lines = [f"{statement} map{number}.png" for number, statement in zip(range(len(maps)), statements, strict=False)]
    files = {f"map{number}.png": data for number, data in enumerate(maps)}
    library = "\n".join(["newmtl skin", *lines, "newmtl other", "map_Kd map0.png"]) + "\n"
    series = series_of(folder, {1: SHEET, 2: SHEET}, {"manta.mtl": library.encode()} | files | (others or {}))
    resolver = MaterialResolver(Scope(folder))
    return judge_maps(resolver.of_frame(series.reference_facts), fit_texture(series), WANTED, resolver.scope)


@pytest.mark.parametrize(
    ("size", "verdicts"),
    [
        ((1920, 1080), ()),
        ((1280, 720), ()),  # enlarged by a factor of 1.5
        ((640, 360), ("too small (needs 1920 x 1080 pixels)",)),
        ((6400, 3600), ()),
        ((9600, 5400), ("far too large (1920 x 1080 pixels are enough)",)),
        ((1440, 1440), ("squeezed in height by a factor of 1.78",)),
        ((2560, 810), ("squeezed in width by a factor of 1.78",)),
    ],
)
def test_verdicts(tmp_path: Path, size: tuple[int, int], verdicts: tuple[str, ...]) -> None:
    (found,) = judged(tmp_path, png_header(*size))
    assert found.size == size
    assert found.verdicts == verdicts
    assert found.squeeze == pytest.approx(size[0] / size[1] / (16 / 9))
    assert found.density == pytest.approx((size[0] * size[1] / 144) ** 0.5)


def test_maps_of_one_material_in_different_sizes(tmp_path: Path) -> None:
    found = judged(tmp_path, png_header(1920, 1080), png_header(3840, 2160), png_header(1920, 1080))
    said = [one.verdicts for one in found]
    assert said[0] == said[2] == ("differs in size from other maps of this material (3840 x 2160 pixels)",)
    assert said[1] == ("differs in size from other maps of this material (1920 x 1080 pixels)",)


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF", "TGA", "BMP", "WEBP"])
def test_sizes_of_usual_formats(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "map"
    path.write_bytes(picture(37, 21, kind))
    assert picture_size(path, Scope(tmp_path)) == (37, 21)


def test_what_is_no_picture_is_said_and_does_not_stop(tmp_path: Path) -> None:
    bomb, text, cut = judged(tmp_path, png_header(2**31 - 1, 2**31 - 1), b"not a picture", png_header(8, 8)[:20])
    assert bomb.unknown == "the texture is too large to open safely"
    assert text.unknown == "the size of a texture in this format can't be read"
    assert cut.size is None
    assert cut.unknown
    (tmp_path / "map0.png").unlink()
    assert picture_size(tmp_path / "map0.png", Scope(tmp_path)) == "No such file or directory"


def test_a_large_map_is_measured_without_a_warning(tmp_path: Path) -> None:
    """Pillow warns above 89 million pixels, and the map has 134 million. Warnings make these tests fail."""
    path = tmp_path / "large.png"
    path.write_bytes(png_header(16384, 8192))
    assert picture_size(path, Scope(tmp_path)) == (16384, 8192)


def test_a_map_outside_the_folder_is_not_opened(tmp_path: Path) -> None:
    outside = tmp_path / "outside.png"
    outside.write_bytes(picture(4, 4))
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "map0.png").symlink_to(outside)
    series = series_of(
        tmp_path / "in", {1: SHEET, 2: SHEET}, {"manta.mtl": b"newmtl skin\nmap_Kd map0.png\nmap_Ks ../outside.png\n"}
    )
    resolver = MaterialResolver(Scope(tmp_path / "in"))
    assert judge_maps(resolver.of_frame(series.reference_facts), fit_texture(series), WANTED, resolver.scope) == ()
