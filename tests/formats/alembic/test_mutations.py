"""Tests of reading files that are damaged at random."""

from __future__ import annotations

import os
import random
import resource
import struct
import time
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from inspector.formats.alembic.archive import Archive, Compound
from inspector.formats.alembic.ogawa import ArchiveError
from inspector.formats.alembic.scene import ArchiveScene, PlacedMesh, clock_of, frames_of
from inspector.formats.alembic.times import ACYCLIC, TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter
from tests.helpers.alembic import (
    CUBE,
    CUBE_FACES,
    EXAMPLE,
    SQUARE,
    XFORM,
    add_face_set,
    add_mesh,
    add_xform,
    archive_bytes,
    put,
    show,
)

WORST_SECONDS, WORST_MEGABYTES = 2.0, 300
"""Limits on time and memory for a small file with any content. The memory is that of the whole test process."""


def everything(writer: ArchiveWriter) -> None:
    """Write an archive of about 8 KB with every feature that the reader supports."""
    reef = add_xform(writer.top, "reef", [1, 6, 0], [[n, 0, 0, 10 * n, 2, 2, 2] for n in range(4)])
    kelp = add_mesh(reef, points=[np.add(CUBE, n) for n in range(4)], faces=CUBE_FACES)
    inside = kelp.geometry.compound("uv", {"geoScope": "fvr"})
    put(inside.array(".vals", "f4", 2, None, 1), [np.zeros((5, 2)), np.ones((5, 2))])
    put(inside.array(".indices", "u4", 1, None, 1), [np.arange(24) % 5])
    put(kelp.geometry.array("N", "f4", 3, {"geoScope": "vtx"}, 2), [np.ones((8, 3))] * 3)
    more = kelp.geometry.compound(".arbGeomParams")
    put(more.array("wet", "f4", 2, {"geoScope": "vtx", "interpretation": "vector"}), [np.ones((8, 2))])
    add_face_set(kelp.node, "skin", [0, 1, 2], [3])
    put(kelp.node.properties.scalar(".material.assign", "text"), ["/looks/wet"])
    show(kelp.node, 1, 0, -1)
    copy = writer.top.child("copy", {"isInstance": "1"})
    put(copy.properties.scalar(".instanceSource", "text"), ["/reef"])
    add_mesh(writer.top.child("listed", XFORM), points=[SQUARE, np.add(SQUARE, 1)], sampling=3)
    writer.top.child("camera", {"schema": "AbcGeom_Camera_v1"})


def seeds() -> list[bytes]:
    samplings = [
        TimeSampling(1 / 24, (1 / 24,), 0),
        TimeSampling(1 / 24, (0.8 / 24, 1 / 24, 1.2 / 24), 0),
        TimeSampling(ACYCLIC, (1.0, 2.5), 0),
    ]
    return [EXAMPLE, archive_bytes(everything, samplings, FramesPerTimeUnit="24")]


def damaged(data: bytes, source: random.Random) -> bytes:
    new = bytearray(data)
    for _ in range(source.choice((1, 1, 1, 2, 3, 8))):
        at, other = source.randrange(len(new)), source.randrange(len(new))
        match source.randrange(8):
            case 0:
                new[at] = source.randrange(256)
            case 1:
                new[at] ^= 1 << source.randrange(8)
            case 2:
                words = (0, 1, 1 << 63, (1 << 64) - 1, len(new), other, 1 << 63 | other)
                new[at : at + 8] = struct.pack("<Q", source.choice(words))
            case 3 if source.random() < 0.1:
                del new[max(at, 1) :]
            case 4:
                length = source.randrange(1, 40)
                new[at : at + length] = new[other : other + length]
            case 5:
                new[at : at + 4] = struct.pack("<I", source.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF)))
            case _:
                odd = (float("nan"), float("inf"), -1.0, 1e308, 0.0, 5e-324)
                new[at : at + 8] = struct.pack("<d", source.choice(odd))
    return bytes(new)


def read_all(path: Path) -> None:
    """Read everything that is needed to list and to unpack the archive. Only ArchiveError may be raised."""
    scene = ArchiveScene(Archive(os.open(path, os.O_RDONLY)))
    clock = clock_of(scene)
    whole, parts = frames_of(scene, clock)
    for mesh in scene.meshes[:20]:
        look(mesh, [clock.seconds(frame) for frame in (*whole[:2], *parts[:1])])
    for node in list(scene.archive.objects())[:40]:
        with suppress(ArchiveError):
            look_at(node.properties)


def look(mesh: PlacedMesh, times: list[float]) -> None:
    mesh.reader.bounds(0.0)
    for ask in (lambda: mesh.reader.faces, lambda: mesh.hidden):
        with suppress(ArchiveError):
            ask()
    for moment, blend in zip(times, (False, False, True), strict=False):
        with suppress(ArchiveError):
            mesh.placement.world(moment, blend)
        with suppress(ArchiveError):
            sample = mesh.sample(moment, None, blend)
            assert len(sample.v) == sample.sizes.sum()
            assert sample.vt is None or len(sample.vt) == len(sample.v)
        with suppress(ArchiveError):
            mesh.placement.shown(moment)


def look_at(compound: Compound) -> None:
    for name in list(compound.headers)[:40]:
        inside, one = compound.compound(name), compound.property(name)
        if inside is not None:
            look_at(inside)
        for index in range(min(one.header.samples, 3)) if one is not None else ():
            assert one is not None
            with suppress(ArchiveError):
                one.strings(index) if one.header.type > 11 else one.numbers(index)


BY_HAND = [pytest.param(seed, 10_000, marks=pytest.mark.slow) for seed in range(1, 11)]


@pytest.mark.parametrize(("seed", "count"), [(0, 2000), *BY_HAND])
def test_random_damage(tmp_path: Path, seed: int, count: int) -> None:
    source = random.Random(seed)
    sound, path = seeds(), tmp_path / "damaged.abc"
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    worst, refused = 0.0, 0
    for _ in range(count):
        path.write_bytes(damaged(source.choice(sound), source))
        start = time.process_time()
        try:
            read_all(path)
        except ArchiveError:
            refused += 1
        worst = max(worst, time.process_time() - start)
    used = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024
    print(f"{count} damaged files: {refused} refused, worst {worst:.3f} s, {used} MB more")
    assert count // 20 < refused < count
    assert worst < WORST_SECONDS
    assert used < WORST_MEGABYTES


def test_the_sound_ones_are_read_without_a_problem(tmp_path: Path) -> None:
    for number, data in enumerate(seeds()):
        path = tmp_path / f"{number}.abc"
        path.write_bytes(data)
        scene = ArchiveScene(Archive(os.open(path, os.O_RDONLY)))
        assert scene.archive.problems == []
        assert len(scene.meshes) == (1 if number == 0 else 3)
        read_all(path)
