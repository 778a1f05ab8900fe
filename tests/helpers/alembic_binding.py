"""Run the Python binding of Alembic's reference library in a separate process.

Damaged files can crash the binding, so it is never loaded into the process of the tests.

    python -m tests.helpers.alembic_binding write SEED COUNT FOLDER     write random scenes to 0.abc, 1.abc, ...
    python -m tests.helpers.alembic_binding read ARCHIVE...             print all that the binding reads, as a pickle
"""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

MODULE = "tests.helpers.alembic_binding"
_TIMEOUT = 300


def written(seed: int, count: int, folder: Path) -> list[Path]:
    """Write archives of random scenes with the reference library's binding, and return the archives' paths."""
    command = [sys.executable, "-m", MODULE, "write", str(seed), str(count), str(folder)]
    subprocess.run(command, check=True, timeout=_TIMEOUT)
    return [folder / f"{number}.abc" for number in range(count)]


def read(paths: Sequence[Path]) -> list[dict[str, Any]]:
    """Return what the binding reads from each archive."""
    command = [sys.executable, "-m", MODULE, "read", *map(str, paths)]
    run = subprocess.run(command, check=True, timeout=_TIMEOUT, stdout=subprocess.PIPE)
    found: list[dict[str, Any]] = pickle.loads(run.stdout)
    return found


# The code below runs in that process.


def _filled(kind: Any, values: Any) -> Any:
    values = np.asarray(values)
    array = kind(len(values))
    try:
        np.asarray(memoryview(array))[...] = values
    except TypeError:
        for index, value in enumerate(values.tolist()):
            array[index] = value
    return array


def _plain(value: Any) -> Any:
    import imath

    if isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, imath.Box3d):
        return [*map(float, value.min()), *map(float, value.max())]
    if isinstance(value, imath.M44d | imath.M44f):
        return [float(value[row][column]) for row in range(4) for column in range(4)]
    try:
        return np.array(memoryview(value))
    except TypeError:
        return [_plain(one) for one in value]


def _properties(compound: Any) -> dict[str, Any]:
    found = {}
    for number in range(compound.getNumProperties()):
        one = compound.getProperty(number)
        if one.isCompound():
            found[one.getName()] = _properties(one)
            continue
        count = one.getNumSamples()
        sampling = one.getTimeSampling()
        found[one.getName()] = {
            "type": str(one.getDataType()),
            "array": one.isArray(),
            "metadata": str(one.getMetaData()),
            "constant": one.isConstant(),
            "times": [sampling.getSampleTime(index) for index in range(count)],
            "values": [_plain(one.getValue(index)) for index in range(count)],
        }
    return found


def _object(node: Any, found: dict[str, Any]) -> None:
    from alembic3d import AbcGeom

    header = node.getHeader()
    record: dict[str, Any] = {"metadata": str(node.getMetaData()), "properties": _properties(node.getProperties())}
    found[node.getFullName()] = record
    parent = node.getParent()
    if AbcGeom.IPolyMesh.matches(header):
        schema = AbcGeom.IPolyMesh(parent, node.getName()).getSchema()
        record["topology"] = str(schema.getTopologyVariance())
        record["face sets"] = list(schema.getFaceSetNames())
        for name, parameter in (("uv", schema.getUVsParam()), ("N", schema.getNormalsParam())):
            if parameter.valid():
                record[name] = [
                    (_plain(sample.getVals()), str(sample.getScope()))
                    for sample in (parameter.getExpandedValue(index) for index in range(parameter.getNumSamples()))
                ]
    if AbcGeom.IXform.matches(header):
        schema = AbcGeom.IXform(parent, node.getName()).getSchema()
        samples = [schema.getValue(index) for index in range(schema.getNumSamples())]
        record["matrices"] = [_plain(sample.getMatrix()) for sample in samples]
        record["inherits"] = [sample.getInheritsXforms() for sample in samples]
    for number in range(node.getNumChildren()):
        _object(node.getChild(number), found)


def _archive(path: str) -> dict[str, Any]:
    from alembic3d import Abc

    archive = Abc.IArchive(path)
    found: dict[str, Any] = {}
    _object(archive.getTop(), found)
    return found


class _Scene:
    """A random scene. Many scenes together use every feature of the format that the binding can write."""

    def __init__(self, seed: int, path: str) -> None:
        from alembic3d import Abc
        from alembic3d import AbcCoreAbstract as Core

        self.random = np.random.default_rng(seed)
        self.archive = Abc.OArchive(path)
        times = Core.TimeVector()
        times[:] = [0.5, 0.51, 0.75, 1.0, 2.0, 2.125, 3.0, 4.5]
        cycle = Core.TimeVector()
        cycle[:] = [0.8 / 24, 1 / 24, 1.2 / 24]
        samplings = [
            Core.TimeSampling(1 / 24, 1 / 24),
            Core.TimeSampling(1 / 25, 3.875),
            Core.TimeSampling(Core.TimeSamplingType(Core.AcyclicFlag.kAcyclic), times),
            Core.TimeSampling(Core.TimeSamplingType(3, 1 / 24), cycle),
        ]
        self.samplings = [0, *(self.archive.addTimeSampling(one) for one in samplings)]
        self._meshes: list[Any] = []
        self._below(self.archive.getTop(), 0)

    def _chance(self, part: float) -> bool:
        return bool(self.random.random() < part)

    def _sampling(self) -> int:
        return int(self.random.choice(self.samplings))

    def _below(self, parent: Any, depth: int) -> None:
        for number in range(int(self.random.integers(1, 4))):
            name = f"{'abc'[number]}{depth} [x]:{number}"
            kinds: list[Callable[[Any, str], Any]] = [self._mesh, self._mesh, self._cage, self._other]
            if depth < 3 and self._chance(0.5):
                self._below(self._xform(parent, name), depth + 1)
            else:
                kinds[int(self.random.integers(len(kinds)))](parent, name)
        if depth and self._meshes and self._chance(0.3):
            source = self._meshes[int(self.random.integers(len(self._meshes)))]
            parent.addChildInstance(source, "instance")

    def _show(self, node: Any) -> None:
        from alembic3d import AbcGeom

        if self._chance(0.3):
            visible = AbcGeom.CreateVisibilityProperty(node, self._sampling())
            for _ in range(int(self.random.integers(1, 5))):
                visible.setValue(int(self.random.integers(-1, 2)))

    def _xform(self, parent: Any, name: str) -> Any:
        import imath
        from alembic3d import AbcGeom

        node = AbcGeom.OXform(parent, name)
        self._show(node)
        schema = node.getSchema()
        schema.setTimeSampling(self._sampling())
        kind = AbcGeom.XformOperationType
        single = {kind.kRotateXOperation, kind.kRotateYOperation, kind.kRotateZOperation}
        several = [kind.kScaleOperation, kind.kTranslateOperation, kind.kRotateOperation, kind.kMatrixOperation]
        chosen = [list(single)[int(n)] if n < 3 else several[int(n) - 3] for n in self.random.integers(0, 7, 4)]
        chosen = chosen[: int(self.random.integers(0, 5))]
        inherits = self._chance(0.8)
        for _ in range(int(self.random.integers(1, 6))):
            sample = AbcGeom.XformSample()
            sample.setInheritsXforms(inherits)
            for one in chosen:
                values = self.random.normal(size=16)
                operation = AbcGeom.XformOp(one, 0)
                if one == kind.kMatrixOperation:
                    sample.addOp(operation, imath.M44d(*values.tolist()))
                elif one == kind.kRotateOperation:
                    sample.addOp(operation, imath.V3d(*values[:3].tolist()), float(values[3] * 90))
                elif one in single:
                    sample.addOp(operation, float(values[0] * 90))
                else:
                    sample.addOp(operation, imath.V3d(*values[:3].tolist()))
            schema.set(sample)
        return node

    def _faces(self) -> tuple[Any, Any, Any]:
        points = int(self.random.integers(3, 30))
        # Write at least one face: the binding crashes when it expands the values of an empty array.
        counts = self.random.integers(3, 6, int(self.random.integers(1, 12)))
        return self.random.normal(size=(points, 3)), counts, self.random.integers(0, points, int(counts.sum()))

    def _mesh(self, parent: Any, name: str) -> Any:
        import imath
        from alembic3d import AbcGeom

        node = AbcGeom.OPolyMesh(parent, name)
        self._show(node)
        schema = node.getSchema()
        schema.setTimeSampling(self._sampling())
        changing, moving = self._chance(0.3), self._chance(0.7)
        with_uvs, with_normals = self._chance(0.7), self._chance(0.7)
        scopes = AbcGeom.GeometryScope
        scope = [scopes.kFacevaryingScope, scopes.kVertexScope, scopes.kUniformScope][int(self.random.integers(3))]
        indexed = self._chance(0.5)
        points, counts, indices = self._faces()
        sets = [schema.createFaceSet(f"skin {n}") for n in range(int(self.random.integers(0, 3)))]
        for _ in range(int(self.random.integers(1, 6))):
            if changing and self._chance(0.6):
                points, counts, indices = self._faces()
            elif moving and self._chance(0.7):
                points = self.random.normal(size=points.shape)
            count = {"fvr": len(indices), "vtx": len(points), "uni": len(counts)}[
                {scopes.kFacevaryingScope: "fvr", scopes.kVertexScope: "vtx"}.get(scope, "uni")
            ]
            sample = AbcGeom.OPolyMeshSchemaSample(
                _filled(imath.V3fArray, points), _filled(imath.IntArray, indices), _filled(imath.IntArray, counts)
            )
            for wanted, kind, array, width, put in (
                (with_uvs, AbcGeom.OV2fGeomParamSample, imath.V2fArray, 2, sample.setUVs),
                (with_normals, AbcGeom.ON3fGeomParamSample, imath.V3fArray, 3, sample.setNormals),
            ):
                if wanted:
                    values = self.random.normal(size=(count, width))
                    if indexed and count:
                        picks = _filled(imath.UnsignedIntArray, self.random.integers(0, count, count))
                        put(kind(_filled(array, values), picks, scope))
                    else:
                        put(kind(_filled(array, values), scope))
            schema.set(sample)
            for one in sets:
                members = self.random.integers(0, max(len(counts), 1), int(self.random.integers(0, 4)))
                one.getSchema().set(AbcGeom.OFaceSetSchemaSample(_filled(imath.IntArray, members)))
        if self._chance(0.5):
            self._uv_set(schema.getArbGeomParams(), len(indices))
        self._meshes.append(node)
        return node

    def _uv_set(self, compound: Any, corners: int) -> None:
        import imath
        from alembic3d import AbcGeom

        scope = AbcGeom.GeometryScope.kFacevaryingScope
        parameter = AbcGeom.OV2fGeomParam(compound, "second", False, scope, 1)
        values = self.random.normal(size=(corners, 2))
        parameter.set(AbcGeom.OV2fGeomParamSample(_filled(imath.V2fArray, values), scope))

    def _cage(self, parent: Any, name: str) -> Any:
        import imath
        from alembic3d import AbcGeom

        node = AbcGeom.OSubD(parent, name)
        schema = node.getSchema()
        schema.setTimeSampling(self._sampling())
        points, counts, indices = self._faces()
        for _ in range(int(self.random.integers(1, 4))):
            sample = AbcGeom.OSubDSchemaSample(
                _filled(imath.V3fArray, self.random.normal(size=points.shape)),
                _filled(imath.IntArray, indices),
                _filled(imath.IntArray, counts),
            )
            schema.set(sample)
        return node

    def _other(self, parent: Any, name: str) -> Any:
        from alembic3d import AbcGeom

        kind = AbcGeom.OCamera if self._chance(0.5) else AbcGeom.OPoints
        node = kind(parent, name)
        if kind is AbcGeom.OCamera:
            node.getSchema().set(AbcGeom.CameraSample())
        return node


def main() -> None:
    what, *arguments = sys.argv[1:]
    if what == "write":
        seed, count, folder = int(arguments[0]), int(arguments[1]), Path(arguments[2])
        for number in range(count):
            _Scene(seed + number, str(folder / f"{number}.abc"))
    else:
        sys.stdout.buffer.write(pickle.dumps([_archive(path) for path in arguments]))


if __name__ == "__main__":
    main()
