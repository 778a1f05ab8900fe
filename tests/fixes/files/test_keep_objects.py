"""Tests of `keep-objects`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import shot

KELP = b"o kelp\nv 0 0 9\nv 1 0 9\nv 0 1 9\nusemtl skin\nf 21 22 23\n"


def with_kelp(data: bytes, object_last: bool = True) -> bytes:
    if object_last:
        return data + KELP
    body = data.replace(b"mtllib manta.mtl\n", b"")
    moved = b"".join(
        (b"f" + b"".join(b" %d/%s" % (int(v) + 3, vt) for v, vt in (c.split(b"/") for c in line.split()[1:])) + b"\n")
        if line.startswith(b"f ")
        else line
        for line in body.splitlines(keepends=True)
    )
    return b"mtllib manta.mtl\n" + KELP.replace(b"21 22 23", b"1 2 3") + moved


def both(object_last: bool) -> dict[str, bytes]:
    return {name: with_kelp(data, object_last) if name.endswith("obj") else data for name, data in shot().items()}


@pytest.mark.parametrize("object_last", [True, False])
def test_the_other_object_goes_with_its_vertices(tmp_path: Path, object_last: bool) -> None:
    result = fixed(tmp_path, both(object_last), "keep-objects", {"names": "manta"})
    for name, good in shot().items():
        if not name.endswith("obj"):
            continue
        manta = [line for line in good.splitlines() if line[:2] in (b"v ", b"vt", b"f ")]
        assert [line for line in result.after[name].splitlines() if line[:2] in (b"v ", b"vt", b"f ")] == manta
        assert result.touched(name) <= {b"v", b"f"}
    assert not result.delivery.proof.new


@pytest.mark.parametrize(
    ("files", "parameters", "reason"),
    [
        (both(True), {}, "name those to keep with "),
        (both(True), {"names": "jelly"}, "no object or group jelly; it has kelp, manta"),
        (both(True), {"names": "kelp, manta"}, "every face belongs to the named objects or groups"),
        (
            both(True) | {"manta.0004.obj": both(True)["manta.0004.obj"].replace(b"o kelp", b"o weed")},
            {"names": "manta"},
            r"manta\.0004\.obj: the objects, groups, smoothing groups or materials of the faces differ",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "keep-objects", parameters)
