"""Tests of third-party models, which are fetched by package name and never committed.

Run by hand: `pytest -m others`. The counts of an OBJ are compared with those of tinyobjloader if tinyobjloader's counts
are reliable for the file.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.errors import MeshqcError
from inspector.formats.problems import UnreadableFrame
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run.executors import InlineExecutor
from inspector.sequence.run.scan import load_frame
from tests.helpers.hostile.others import BESIDE, ENDINGS, data_of_wheel, debian_packages, debian_source

pytestmark = pytest.mark.others

# It runs in its own process, because the library may crash on hostile input.
COUNT = """
import sys, tinyobjloader
config = tinyobjloader.ObjReaderConfig()
config.triangulate = False
for path in sys.stdin.read().splitlines():
    reader = tinyobjloader.ObjReader()
    good = reader.ParseFromFile(path, config)
    attributes = reader.GetAttrib()
    faces = sum(len(shape.mesh.num_face_vertices) for shape in reader.GetShapes())
    counts = [len(attributes.vertices) // 3, len(attributes.texcoords) // 2, len(attributes.normals) // 3, faces]
    print(*(counts if good else "-"), flush=True)
"""
# Problems that the library can't judge (tested with files).
ODD = {"degenerate-face", "bad-number", "byte-order-mark", "continued-line"}

SOURCES: dict[Callable[[Path], None], tuple[int, int]] = {
    debian_packages: (80, 10),
    debian_source: (40, 30),
    data_of_wheel: (1000, 900),
}
"""For each function that fetches models, the minimum number of mesh files, and the minimum number of OBJs for which
tinyobjloader's counts are reliable."""


@pytest.fixture(scope="module", params=SOURCES, ids=lambda fetch: fetch.__name__)
def fetch(request: pytest.FixtureRequest) -> Callable[[Path], None]:
    wanted: Callable[[Path], None] = request.param
    return wanted


@pytest.fixture(scope="module")
def models(fetch: Callable[[Path], None], tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    place = tmp_path_factory.mktemp("others")
    fetch(place)
    found = sorted(path for path in (place / "all").rglob("*") if path.suffix.lower() in ENDINGS and path.is_file())
    assert len(found) >= SOURCES[fetch][0]
    return found


@pytest.mark.timeout(1800)  # the wheel has 1,203 models, which take 40 s with the native core on an idle machine
def test_every_model_gets_a_verdict(models: list[Path], tmp_path: Path) -> None:
    for at, model in enumerate(models):
        folder = tmp_path / str(at)
        folder.mkdir()
        for number in (1, 2, 3):
            shutil.copyfile(model, folder / f"kelp.{number:04}{model.suffix.lower()}")
        for other in model.parent.iterdir():
            if other.suffix.lower() in BESIDE:
                shutil.copyfile(other, folder / other.name)
        inspection = inspect_folder(folder, executor=InlineExecutor())
        for one in inspection.inspections:
            assert one.verdict.failed == (), model
        assert inspection.inspections or inspection.not_sequences, model
        shutil.rmtree(folder)


def test_gltf_and_ply_are_what_trimesh_reads(models: list[Path], fetch: Callable[[Path], None]) -> None:
    """Models with skins or weights are not compared, because trimesh ignores both."""
    read, compared, refused = 0, 0, Counter[str]()
    for model in (one for one in models if one.suffix.lower() in (".gltf", ".glb", ".ply")):
        try:
            frame = load_frame(model)
        except (MeshqcError, UnreadableFrame) as error:
            refused[error.words if isinstance(error, UnreadableFrame) else str(error)] += 1
            continue
        read += 1
        data = model.read_bytes()
        if b'"skins"' in data or b'"weights"' in data or not frame.faces:
            continue
        try:
            theirs = trimesh.load(model, process=False, force="scene").to_geometry()
            bounds, faces = theirs.bounds, len(theirs.faces)
        except Exception:
            continue  # trimesh can't read some files that we can read
        if bounds is None or not np.isfinite(bounds).all() or frame.box is None:
            continue
        np.testing.assert_allclose(frame.box, bounds, atol=1e-4 * max(1.0, np.abs(bounds).max()), err_msg=str(model))
        assert int((frame.corners.sizes - 2).sum()) == faces, model
        compared += 1
    print(f"{fetch.__name__}: {read} read, {compared} compared, refused: {dict(refused)}")


def test_objs_count_as_the_library_counts(models: list[Path], fetch: Callable[[Path], None]) -> None:
    objs = [model for model in models if model.suffix.lower() == ".obj"]
    words = "".join(f"{model}\n" for model in objs)
    run = subprocess.run(
        [sys.executable, "-c", COUNT], input=words, capture_output=True, text=True, check=False, timeout=600
    )
    compared = 0
    for model, line in zip(objs, run.stdout.splitlines(), strict=True):
        try:
            frame = load_frame(model)
        except MeshqcError:
            continue  # we report the file as unreadable; the library reads a part of it
        if line == "-" or frame.encoding or {problem.kind for problem in frame.problems} & ODD:
            continue
        ours = [len(frame.positions), len(frame.uvs), len(frame.normals), frame.faces]
        assert ours == [int(word) for word in line.split()], model
        compared += 1
    assert compared >= SOURCES[fetch][1]
