"""Tests of safe rectangles over all frames, on sheets whose stretch is obvious (no source needed)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.lettering.safe_lettering import SafeArea, safe_areas
from inspector.lettering.texture_fit import fit_texture
from tests.helpers.meshes import Mesh
from tests.helpers.shapes import remapped, scanned, series_of, sheet_mesh, wall

SHEET = sheet_mesh(wall(16, 9), 10, 5)


def safe(folder: Path, *meshes: Mesh, bound: float = 1.25) -> SafeArea:
    series = series_of(folder, dict(enumerate(meshes, 1)))
    (area,) = safe_areas(series, fit_texture(series), bound=bound, cells=100)
    return area


def pulled(mesh: Mesh, beyond: float, factor: float) -> Mesh:
    x = mesh.positions[:, 0]
    longer = np.where(x > beyond, beyond + (x - beyond) * factor, x)
    return mesh.edit(positions=np.column_stack([longer, mesh.positions[:, 1:]]))


def test_an_even_sheet_is_safe_whole(tmp_path: Path) -> None:
    rectangle = safe(tmp_path, SHEET, SHEET).rectangle
    assert rectangle is not None
    assert (rectangle.left, rectangle.bottom, rectangle.right, rectangle.top) == pytest.approx((0, 0, 1, 1))


@pytest.mark.parametrize(("factor", "right"), [(1.2, 1.0), (1.3, 0.8), (0.83, 1.0), (0.7, 0.8)])
def test_what_stretches_in_one_frame_only_is_kept_out(tmp_path: Path, factor: float, right: float) -> None:
    rectangle = safe(tmp_path, SHEET, pulled(SHEET, 12.8, factor), SHEET).rectangle
    assert rectangle is not None
    assert rectangle.right == pytest.approx(right)
    assert (rectangle.left, rectangle.bottom, rectangle.top) == pytest.approx((0, 0, 1))


def test_a_mirrored_sheet_is_as_safe_as_another_but_a_fold_is_not(tmp_path: Path) -> None:
    mirrored = remapped(SHEET, lambda u, v: (1 - u, v))
    assert safe(tmp_path / "mirrored", mirrored).rectangle is not None
    folded = remapped(SHEET, lambda u, v: (np.where(u > 0.8, 1.6 - u, u), v))
    rectangle = safe(tmp_path / "folded", folded).rectangle
    assert rectangle is not None
    assert rectangle.right == pytest.approx(0.6, abs=0.01)  # the fold overlaps everything to the right of it


def test_a_frame_without_extent_leaves_nothing_safe(tmp_path: Path) -> None:
    assert safe(tmp_path, SHEET, SHEET.edit(positions=SHEET.positions * 0)).rectangle is None


def test_the_demo_has_a_safe_rectangle_on_each_side(demo: Path) -> None:
    series = scanned(demo / "manta")
    areas = safe_areas(series, fit_texture(series))
    assert [area.region.island for area in areas] in ([0, 1], [1, 0])
    for area in areas:
        assert area.rectangle is not None
        assert 0 < area.rectangle.left < area.rectangle.right < 1
