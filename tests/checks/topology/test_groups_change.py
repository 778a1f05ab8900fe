"""Tests of `groups-change`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot
from tests.helpers.surfaces import EVERY, sequence


def renamed(mesh: Mesh) -> Mesh:
    return mesh.edit(head=("mtllib manta.mtl", "o manta_0005"))


def grouped(*names: str) -> object:
    return lambda mesh: mesh.edit(state=(*(f"g {name}" for name in names), *mesh.state))


def test_an_object(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "groups-change", shot({5: renamed}))
    assert said == [("groups-change", "warning", [5.0])]
    finding = finding_of(inspection, "groups-change")
    assert (
        finding.message
        == "the names of objects differ from the reference frame's (missing: `manta`; new: `manta_0005`)"
    )
    assert finding.numbers == {"kind": "objects", "gone": 1, "new": 1}


def test_a_group(tmp_path: Path) -> None:
    inspection = look(tmp_path, shot({5: grouped("wing")}))  # type: ignore[dict-item]
    assert heard(inspection) == [("groups-change", "warning", [5.0])]
    assert finding_of(inspection, "groups-change").numbers == {"kind": "groups", "gone": 0, "new": 1}


def test_a_name_for_every_frame_is_one_finding(tmp_path: Path) -> None:
    def named(number: int) -> Mesh:
        return wing(number).edit(head=("mtllib manta.mtl", f"o manta_{number:04}"))

    assert heard(look(tmp_path, sequence(named))) == [("groups-change", "warning", EVERY[1:])]


def test_the_order_of_groups_does_not_matter(tmp_path: Path) -> None:
    def parted(names: tuple[str, str]) -> bytes:
        lines = wing(1).text().decode().split("\n")
        first = next(at for at, line in enumerate(lines) if line.startswith("f "))
        return "\n".join(
            [*lines[:first], f"g {names[0]}", *lines[first : first + 6], f"g {names[1]}", *lines[first + 6 :]]
        ).encode()

    files = shot()
    for number in range(1, 13):
        files[f"manta.{number:04}.obj"] = parted(("left", "right") if number % 2 else ("right", "left"))
    assert "groups-change" not in {check for check, _, _ in heard(look(tmp_path, files))}


def test_an_object_and_a_group_are_one_finding(tmp_path: Path) -> None:
    both = lambda mesh: renamed(mesh).edit(state=("g wing", *mesh.state))  # noqa: E731
    inspection = look(tmp_path, shot({5: both}))
    assert heard(inspection) == [("groups-change", "warning", [5.0])]
    assert finding_of(inspection, "groups-change").numbers == {"kind": "objects and groups", "gone": 1, "new": 2}
