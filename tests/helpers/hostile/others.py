"""Third-party models from packages that are downloaded by name.

Only meshes, materials and glTF buffers are extracted, into the test's own folder.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path, PurePosixPath

import pytest

ENDINGS = {".obj", ".ply", ".stl", ".off", ".glb", ".gltf"}
# The materials of a mesh, and the buffers of glTF, which hold its numbers.
BESIDE = {".mtl", ".bin"}
_WANTED = ENDINGS | BESIDE


def debian_packages(place: Path) -> None:
    _need("apt-get", "dpkg-deb")
    subprocess.run(
        ["apt-get", "download", "assimp-testmodels", "glmark2-data"],
        cwd=place,
        check=True,
        capture_output=True,
        timeout=600,
    )
    for package in place.glob("*.deb"):
        subprocess.run(["dpkg-deb", "-x", package, place / "unpacked"], check=True, timeout=600)
        for path in (place / "unpacked").rglob("*"):
            if path.suffix.lower() in _WANTED and path.is_file() and not path.is_symlink():
                target = place / "all" / path.relative_to(place / "unpacked")
                target.parent.mkdir(parents=True, exist_ok=True)
                path.rename(target)


def debian_source(place: Path) -> None:
    _need("apt-get")
    sources = place / "sources.list"
    sources.write_text(f"deb-src http://deb.debian.org/debian {_suite()} main\n")
    (place / "lists" / "partial").mkdir(parents=True)
    settings = {
        "Dir::Etc::sourcelist": sources,
        "Dir::Etc::sourceparts": "-",
        "Dir::State::lists": place / "lists",
        "Dir::Cache::pkgcache": "",
        "Dir::Cache::srcpkgcache": "",
        "APT::Sandbox::User": "",
    }
    options = [word for key, value in settings.items() for word in ("-o", f"{key}={value}")]
    for words in (["update"], ["source", "--download-only", "tinyobjloader"]):
        subprocess.run(["apt-get", *options, "-q", *words], cwd=place, check=True, capture_output=True, timeout=600)
    with tarfile.open(next(place.glob("*.orig.tar.*"))) as archive:
        _take(archive, place)


def data_of_wheel(place: Path) -> None:
    words = ["download", "-q", "--no-deps", "--only-binary", ":all:", "-d", place, "pybullet"]
    subprocess.run([sys.executable, "-m", "pip", *words], check=True, capture_output=True, timeout=600)
    with zipfile.ZipFile(next(place.glob("*.whl"))) as archive:
        for name in archive.namelist():
            if PurePosixPath(name).suffix.lower() in _WANTED:
                archive.extract(name, place / "all")  # never writes outside the folder


def _need(*programs: str) -> None:
    if not all(map(shutil.which, programs)):
        pytest.skip("NOT RUN: these models come as Debian packages, and this is no Debian")


def _suite() -> str:
    lines = Path("/etc/os-release").read_text().splitlines()
    return next(line.partition("=")[2] for line in lines if line.startswith("VERSION_CODENAME="))


def _take(archive: tarfile.TarFile, place: Path) -> None:
    for member in archive:
        if member.isfile() and PurePosixPath(member.name).suffix.lower() in _WANTED:
            archive.extract(member, place / "all", filter="data")
