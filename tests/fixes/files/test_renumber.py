"""Tests of `renumber`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import wing
from tests.helpers.sequences import MATERIALS, shot

UNPADDED = MATERIALS | {f"manta.{number}.obj": wing(number).text() for number in range(1, 13)}


def frames(files: dict[str, bytes]) -> list[str]:
    return sorted(name for name in files if name.endswith(".obj"))


def test_numbers_are_padded_and_bytes_stay(tmp_path: Path) -> None:
    result = fixed(tmp_path, UNPADDED, "renumber")
    assert frames(result.after) == [f"manta.{number:04}.obj" for number in range(1, 13)]
    assert result.after["manta.0007.obj"] == UNPADDED["manta.7.obj"]
    assert result.delivery.proof.clean


def test_the_form_of_most_is_kept(tmp_path: Path) -> None:
    files = MATERIALS | {f"manta.{number:03}.obj": wing(number).text() for number in range(1, 12)}
    files["manta.12.OBJ"] = wing(12).text()
    result = fixed(tmp_path, files, "renumber")
    assert frames(result.after) == [f"manta.{number:03}.obj" for number in range(1, 13)]
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["repeated-frames"]


def test_a_new_start_numbers_all_frames_in_order_also_two_that_shared_a_number(tmp_path: Path) -> None:
    files = shot(numbers=range(1, 5)) | {"manta.4.obj": wing(5).text()}
    result = fixed(tmp_path, files, "renumber", {"start": "1001"})
    assert frames(result.after) == [f"manta.{number}.obj" for number in range(1001, 1006)]
    assert result.after["manta.1005.obj"] == files["manta.4.obj"]


def test_sub_frames_keep_their_fraction(tmp_path: Path) -> None:
    files = MATERIALS | {
        f"manta.{number}{part}.obj": wing(number + float(part or 0)).text()
        for number in range(1, 5)
        for part in ("", ".5")
    }
    assert frames(fixed(tmp_path, files, "renumber").after)[:3] == [
        "manta.0001.5.obj",
        "manta.0001.obj",
        "manta.0002.5.obj",
    ]


@pytest.mark.parametrize(
    ("parameters", "reason"),
    [
        ({}, "no file name would change"),
        ({"start": "-3"}, "start must be a whole number of at least 0, not -3"),
        ({"start": "1.5"}, "start must be a whole number of at least 0, not 1.5"),
        ({"padding": "0"}, "padding must be from 1 to 20"),
    ],
)
def test_refusals(tmp_path: Path, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, shot(), "renumber", parameters)


def test_two_different_files_with_one_number_need_a_start(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="`--with renumber:start=1` renumbers all"):
        plan_for(tmp_path, shot() | {"manta.5.obj": wing(5.5).text()}, "renumber")
