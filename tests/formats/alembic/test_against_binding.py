"""Tests of archives that the binding of Alembic's reference library writes or reads. All values must be equal."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.formats.alembic.archive import Archive, Compound, Property
from inspector.formats.alembic.mesh import MeshReader
from inspector.formats.alembic.scene import Transform
from tests.helpers import alembic_binding

if importlib.util.find_spec("alembic3d") is None:
    pytest.skip(
        "alembic3d has no wheel for this machine: Alembic is NOT COMPARED with its reference here",
        allow_module_level=True,
    )

FEW, MANY = 120, 600
KINDS = [
    *("bool_t", "uint8_t", "int8_t", "uint16_t", "int16_t", "uint32_t", "int32_t", "uint64_t", "int64_t"),
    *("float16_t", "float32_t", "float64_t"),
]
SCOPES = {"kFacevaryingScope": "corner", "kVertexScope": "point", "kVaryingScope": "point", "kUniformScope": "face"}
TOPOLOGIES = {"kConstantTopology": "constant", "kHomogenousTopology": "deforming", "kHeterogenousTopology": "changing"}


@pytest.mark.parametrize("count", [FEW, pytest.param(MANY, marks=pytest.mark.slow)])
def test_archives_of_the_binding(tmp_path: Path, count: int) -> None:
    paths = alembic_binding.written(count, count, tmp_path)
    for path, theirs in zip(paths, alembic_binding.read(paths), strict=True):
        compare(path, theirs)


def compare(path: Path, theirs: dict[str, Any]) -> None:
    archive = Archive(os.open(path, os.O_RDONLY))
    assert archive.problems == []
    for place, record in theirs.items():
        if place not in archive.by_path:
            assert "instance" in place, f"{path}: {place} is missing"
            continue
        node = archive.by_path[place]
        if node.metadata.get("isInstance") == "1":
            continue
        metadata = archive.metadata if node is archive.top else node.metadata
        assert dict(metadata) == pairs(record["metadata"])
        same_properties(node.properties, record["properties"], f"{path.name}{place}")
        if "matrices" in record:
            same_matrices(Transform(node), record)
        if "topology" in record:
            same_mesh(MeshReader(node), record)


def pairs(text: str) -> dict[str, str]:
    return dict(piece.split("=", 1) for piece in text.split(";") if piece)


def same_properties(ours: Compound, theirs: dict[str, Any], where: str) -> None:
    assert list(ours.headers) == list(theirs)
    for name, record in theirs.items():
        here = f"{where} {name}"
        if "values" not in record:
            inside = ours.compound(name)
            assert inside is not None, here
            same_properties(inside, record, here)
            continue
        one = ours.property(name)
        if one is None:
            assert record["values"] == [], here
            continue
        same_property(one, record, here)


def same_property(one: Property, record: dict[str, Any], where: str) -> None:
    header = one.header
    assert header.samples == len(record["values"]), where
    assert one.constant == record["constant"], where
    assert (header.kind != 1) == record["array"], where
    assert dict(header.metadata) == pairs(record["metadata"]), where
    assert [one.sampling.time(index) for index in range(header.samples)] == record["times"], where
    pod, _, extent = record["type"].partition("[")
    assert header.extent == int(extent.rstrip("]") or 1), where
    for index, value in enumerate(record["values"]):
        if pod == "string":
            assert list(one.strings(index)) == ([value] if isinstance(value, str) else list(value)), where
        else:
            assert KINDS.index(pod) == header.type, where
            assert np.array_equal(one.numbers(index).ravel(), np.asarray(value).ravel()), where
        if header.samples:
            at = one.sampling.at(record["times"][index], header.samples)
            assert one.place(at.index) == one.place(index), where


def same_matrices(transform: Transform, record: dict[str, Any]) -> None:
    properties = list(transform.properties)
    animated = max(properties, key=lambda one: one.header.samples, default=None)
    for index, matrix in enumerate(record["matrices"]):
        if animated is None:
            assert np.array_equal(np.reshape(matrix, (4, 4)), np.eye(4))
            continue
        time = animated.sampling.time(index)
        # A product of up to four float64 matrices, summed in a different order, may differ by a few units in the last
        # place.
        largest = np.abs(matrix).max()
        np.testing.assert_allclose(transform.matrix(time).ravel(), matrix, rtol=0, atol=max(largest, 1) * 1e-14)
        assert transform.alone(time) is not record["inherits"][index]


def same_mesh(reader: MeshReader, record: dict[str, Any]) -> None:
    assert reader.topology == TOPOLOGIES[record["topology"]]
    assert sorted(reader.materials) == sorted(record["face sets"])
    for name, parameter in (("uv", reader.uv_set(None)), ("N", reader.normals)):
        if name not in record:
            continue
        assert parameter is not None
        for index, (values, scope) in enumerate(record[name]):
            assert parameter.scope == SCOPES[scope]
            read = parameter.values.numbers(index)
            picks = None if parameter.indices is None else parameter.indices.numbers(index).ravel()
            assert np.array_equal(read if picks is None or not len(picks) else read[picks], values)
