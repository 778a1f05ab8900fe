"""Tests of written archives. Source: the worked example in tests/helpers/alembic.py, which is reproduced byte for
byte."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.formats.alembic.archive import Property
from inspector.formats.alembic.times import ACYCLIC, TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter, key_of
from tests.helpers.alembic import EXAMPLE, FILM, MESH, SQUARE, archive_at, archive_bytes, put


def test_the_worked_example_byte_for_byte() -> None:
    first, second = np.array(SQUARE, float), np.add(SQUARE, (0, 0, 0.5))

    def fill(writer: ArchiveWriter) -> None:
        geometry = writer.top.child("q", MESH).properties.compound(".geom", {"schema": MESH["schema"]})
        put(geometry.scalar(".selfBnds", "f8", 6, {"interpretation": "box"}), [np.array([0, 0, 0, 1, 1, 0.5])])
        put(geometry.array("P", "f4", 3, {"geoScope": "vtx", "interpretation": "point"}, 1), [first, second])
        put(geometry.array(".faceIndices", "i4", 1, None, 1), [np.array([0, 3, 2, 1])] * 2)
        put(geometry.array(".faceCounts", "i4", 1, None, 1), [np.array([4])] * 2)
        metadata = {"geoScope": "vtx", "interpretation": "vector"}
        put(geometry.array("uv", "f4", 2, metadata, 1), [first[:, :2]] * 2)

    assert archive_bytes(fill, [FILM], FramesPerTimeUnit="24") == EXAMPLE


@pytest.mark.parametrize(
    ("data", "key"),
    [
        # The keys are from files of the reference library.
        (b"", "00000000000000000000000000000000"),
        (np.array([0, 3, 2, 1], "<i4").tobytes(), "52acaefed8cddc777b6aa8747b807bde"),
        (np.array([4], "<i4").tobytes(), "f05783c945e9c31c8a9c42083615d38b"),
        (np.arange(12, dtype="<f4").tobytes(), "fdbfb2f91185ac654f4f15c3492c530f"),
    ],
)
def test_keys(data: bytes, key: str) -> None:
    assert key_of(data).hex() == key


def test_keys_of_large_samples_differ_where_the_bytes_do() -> None:
    large = bytes(1 << 17)
    assert key_of(large) == key_of(bytes(1 << 17))
    assert key_of(large) != key_of(large[:-1] + b"\1")


def test_equal_samples_are_stored_once() -> None:
    large = np.random.default_rng(1).normal(size=(1000, 3))

    points = {"A": large, "B": large + 1}

    def size(pattern: str) -> int:
        def fill(writer: ArchiveWriter) -> None:
            put(writer.top.properties.array("P", "f4", 3), [points[letter] for letter in pattern])

        return len(archive_bytes(fill))

    sizes = {pattern: size(pattern) for pattern in ("A", "AAAA", "ABAB")}
    assert sizes["AAAA"] == sizes["A"]
    assert sizes["ABAB"] < sizes["A"] + 12_200


@pytest.mark.parametrize("pattern", ["A", "AA", "AB", "AAB", "ABB", "AABBA", "ABA", "AAABBBBAAA", "ABCABC", "AAAAAB"])
@pytest.mark.parametrize("kind", ["f4", "f8", "i4", "u1", "?", "f2", "text"])
def test_samples_read_back(tmp_path: Path, pattern: str, kind: str) -> None:
    letters: dict[str, Any] = {
        letter: letter * 5 if kind == "text" else np.arange(number, number + 6).astype(kind)
        for number, letter in enumerate("ABC")
    }

    def fill(writer: ArchiveWriter) -> None:
        extent = 1 if kind == "text" else 2
        put(writer.top.properties.array("array", kind, extent, None, 1), [letters[letter] for letter in pattern])
        put(writer.top.properties.array("empty", kind, extent, None, 1), [letters["A"][:0]] * len(pattern))
        scalars = [letters[letter] if kind == "text" else letters[letter][:2] for letter in pattern]
        put(writer.top.properties.scalar("scalar", kind, extent, None, 1), scalars)

    archive = archive_at(tmp_path / "kelp.abc", archive_bytes(fill))
    assert archive.samplings[1].largest == (1 if len(set(pattern)) == 1 else len(pattern))
    for name in ("array", "scalar"):
        one = archive.top.properties.property(name)
        assert one is not None
        assert one.constant == (len(set(pattern)) == 1)
        for index, letter in enumerate(pattern):
            if kind == "text":
                assert one.strings(index) == (letters[letter],)
            else:
                assert one.numbers(index).ravel().tolist() == letters[letter][: one.numbers(index).size].tolist()


def counted(tmp_path: Path, values: list[Any]) -> Property | None:
    data = archive_bytes(lambda writer: put(writer.top.properties.scalar("count", "i4", 1, None, 1), values))
    return archive_at(tmp_path / "kelp.abc", data).top.properties.property("count")


def test_numbers_of_every_width(tmp_path: Path) -> None:
    # Numbers in the header have one, two or four bytes, depending on their values.
    first, second = np.array([1]), np.array([2])
    for samples in (255, 256, 65_535, 65_536):
        one = counted(tmp_path, [first] * (samples - 1) + [second])
        assert one is not None
        assert one.header.samples == samples
        assert [int(one.numbers(index)[0, 0]) for index in (0, samples - 2, samples - 1)] == [1, 1, 2]


def test_metadata_in_the_list_and_in_full(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        for number in range(300):
            node = writer.top.child(f"kelp{number}", {"number": str(number), "long": "x" * (number * 2)})
            put(node.properties.scalar("a", "i4", 1, {"of": str(number)}), [np.array([number])])

    archive = archive_at(tmp_path / "kelp.abc", archive_bytes(fill))
    for number, node in enumerate(archive.top.children):
        assert node.metadata == {"number": str(number), "long": "x" * (number * 2)}
        assert node.properties.headers["a"].metadata == {"of": str(number)}


def test_names_that_are_not_unicode(tmp_path: Path) -> None:
    name = b"kelp\xff\xc3\xa9".decode("utf-8", "surrogateescape")
    data = archive_bytes(lambda writer: writer.top.child(name, {"a": name}), [TimeSampling(ACYCLIC, (1.0,), 0)])
    node = archive_at(tmp_path / "kelp.abc", data).top.children[0]
    assert (node.name, dict(node.metadata)) == (name, {"a": name})


def test_a_file_that_was_not_finished_is_not_complete() -> None:
    file = io.BytesIO()
    ArchiveWriter(file, {}, [FILM])
    assert file.getvalue()[5:6] != b"\xff"
