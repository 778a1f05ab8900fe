"""Tests of the cache, and of commands that measure frames in parts on a render queue or on other machines."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.helpers.command import assert_one_sentence, meshqc, strict_json
from tests.helpers.gltf import scene, triangle


@pytest.fixture(scope="module")
def verdict(demo: Path) -> str:
    for path in demo.rglob("*.obj"):
        os.utime(path, (1_700_000_000, 1_700_000_000))
    return meshqc("check", demo, "--json", "--no-cache").stdout


def test_the_cache_changes_nothing_and_lies_in_the_users_folder(demo: Path, verdict: str, tmp_path: Path) -> None:
    for _ in range(2):
        assert meshqc("check", demo, "--json", XDG_CACHE_HOME=str(tmp_path)).stdout == verdict
        assert [path.name for path in (tmp_path / "meshqc").iterdir()] == ["facts.sqlite"]


def test_without_a_cache_nothing_is_kept(demo: Path, tmp_path: Path) -> None:
    meshqc("check", demo / "manta", "--no-cache", XDG_CACHE_HOME=str(tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_parts_of_a_render_queue_merge_to_the_verdict_of_the_whole(demo: Path, verdict: str, tmp_path: Path) -> None:
    parts = []
    for number in (1, 2, 3):
        run = meshqc("check", demo, "--part", f"{number}/3")
        assert run.returncode == 0
        assert strict_json(run.stdout)["part"] == [number, 3]
        parts.append(tmp_path / f"{number}.json")
        parts[-1].write_text(run.stdout)
    merged = meshqc("merge", demo, *reversed(parts), "--json")
    assert merged.stdout == verdict
    assert merged.returncode == 1
    lacking = meshqc("merge", demo, *parts[:2])
    assert lacking.returncode == 2
    assert_one_sentence(lacking.stderr)
    assert "a part is missing" in lacking.stderr


def test_a_bin_that_changed_between_part_and_merge_is_noticed(tmp_path: Path) -> None:
    root = tmp_path / "in"
    root.mkdir()
    document, primitive = triangle()
    for frame in (1, 2, 3, 4):
        (root / f"kelp.{frame:04d}.gltf").write_bytes(document.json(scene([primitive]), "kelp.bin"))
    buffer = root / "kelp.bin"
    buffer.write_bytes(document.buffer)
    os.utime(buffer, (1_700_000_000, 1_700_000_000))

    def measure(number: int) -> Path:
        part = tmp_path / f"{number}.json"
        part.write_text(meshqc("check", root, "--part", f"{number}/2").stdout)
        return part

    parts = [measure(1), measure(2)]
    assert meshqc("merge", root, *parts, "--json").stdout == meshqc("check", root, "--json").stdout
    buffer.write_bytes(document.buffer.replace(b"\0\0\x80?", b"\0\0\0@"))
    for at, frame in ((0, 1), (1, 3)):  # first, both parts are out of date; then only the second
        refused = meshqc("merge", root, *parts)
        assert (refused.returncode, refused.stdout) == (2, "")
        assert_one_sentence(refused.stderr)
        assert f"kelp.{frame:04d}.gltf: a file that this frame depends on has changed" in refused.stderr
        parts[at] = measure(at + 1)
    assert meshqc("merge", root, *parts, "--json").stdout == meshqc("check", root, "--json").stdout
    buffer.unlink()
    refused = meshqc("merge", root, *parts)
    assert refused.returncode == 2
    assert "kelp.0001.gltf: a file that this frame depends on has changed" in refused.stderr


def test_a_scheduler_that_does_not_answer_is_said_in_one_sentence(demo: Path) -> None:
    pytest.importorskip("distributed", reason="the optional extra `cluster` is not installed")
    run = meshqc("check", demo / "manta", "--cluster", "127.0.0.1:1", PYTHONWARNINGS="ignore")
    assert run.returncode == 2
    assert "no scheduler answers at 127.0.0.1:1" in run.stderr
