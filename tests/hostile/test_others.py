"""Other people's models, fetched by package name and never committed (by hand: pytest -m others).

Debian's assimp-testmodels and glmark2-data: mesh files alone, each made into a sequence of three equal frames. Whatever
they hold, a verdict comes; where tinyobjloader can judge an OBJ, it counts the same.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from inspector.checks.base.inspect import inspect_folder
from inspector.errors import MeshqcError
from inspector.sequence.executors import InlineExecutor
from inspector.sequence.scan import load_frame

pytestmark = pytest.mark.others

PACKAGES = ("assimp-testmodels", "glmark2-data")
ENDINGS = {".obj", ".ply", ".stl", ".off", ".glb", ".gltf"}
# In a process of its own: on hostile input the library may crash.
COUNT = """
import sys, tinyobjloader
config = tinyobjloader.ObjReaderConfig()
config.triangulate = False
reader = tinyobjloader.ObjReader()
if not reader.ParseFromFile(sys.argv[1], config):
    sys.exit(1)
faces = sum(len(shape.mesh.num_face_vertices) for shape in reader.GetShapes())
print(len(reader.GetAttrib().vertices) // 3, faces)
"""


@pytest.fixture(scope="module")
def models(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The mesh files of all packages."""
    folder = tmp_path_factory.mktemp("others")
    if shutil.which("apt-get") is None or shutil.which("dpkg-deb") is None:
        pytest.skip("NOT RUN: other people's models come as Debian packages, and this is no Debian")
    subprocess.run(["apt-get", "download", *PACKAGES], cwd=folder, check=True, capture_output=True)
    for package in folder.glob("*.deb"):
        subprocess.run(["dpkg-deb", "-x", package, folder / "all"], check=True)
    found = sorted(path for path in (folder / "all").rglob("*") if path.suffix.lower() in ENDINGS and path.is_file())
    assert len(found) > 80
    return found


def test_every_model_gets_a_verdict(models: list[Path], tmp_path: Path) -> None:
    for at, model in enumerate(models):
        folder = tmp_path / str(at)
        folder.mkdir()
        for number in (1, 2, 3):
            shutil.copyfile(model, folder / f"kelp.{number:04}{model.suffix.lower()}")
        inspection = inspect_folder(folder, executor=InlineExecutor())
        for one in inspection.inspections:
            assert one.verdict.failed == (), model
        assert inspection.inspections or inspection.not_sequences, model


def test_objs_count_as_the_library_counts(models: list[Path]) -> None:
    compared = 0
    for model in models:
        if model.suffix.lower() != ".obj":
            continue
        try:
            frame = load_frame(model)
        except MeshqcError:
            continue  # told of as unreadable; the library takes what it can
        run = subprocess.run([sys.executable, "-c", COUNT, model], capture_output=True, text=True, check=False)
        odd = {problem.kind for problem in frame.problems}
        if run.returncode or frame.encoding or odd & {"short-face", "bad-number", "byte-order-mark", "continued-line"}:
            continue  # what it can't judge (format facts, "Which library can judge what")
        assert [len(frame.positions), frame.faces] == [int(word) for word in run.stdout.split()], model
        compared += 1
    assert compared >= 10
