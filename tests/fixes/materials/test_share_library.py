"""Tests of `share-library`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import MATERIALS, shot

NAME = "manta.0004.obj"
FRAMES = {name for name in shot() if name.endswith(".obj")}

UNNAMED = {name: data.replace(b"mtllib manta.mtl\n", b"") for name, data in shot().items()}


def naming(*libraries: str) -> Callable[[Mesh], Mesh]:
    def edit(mesh: Mesh) -> Mesh:
        return mesh.edit(head=(*(f"mtllib {name}" for name in libraries), "o manta"))

    return edit


def all_naming(library: str, numbers: range = range(1, 13)) -> dict[str, bytes]:
    return shot(dict.fromkeys(numbers, naming(library)))


def test_a_library_found_elsewhere_comes_beside_the_frames(tmp_path: Path) -> None:
    files = all_naming("Export\\MANTA.MTL")
    files["looks/manta.mtl"] = files.pop("manta.mtl").replace(b"skin.png", b"../skin.png")
    result = fixed(tmp_path, files, "share-library")
    for name in FRAMES:
        assert result.touched(name) == {b"mtllib"}
        assert result.after[name] == files[name].replace(b"Export\\MANTA.MTL", b"manta.mtl")
    # The library is in a different folder now, so the path of its map changed. All other bytes are the same.
    assert result.after["manta.mtl"] == MATERIALS["manta.mtl"]
    assert result.after["skin.png"] == files["skin.png"]
    assert "looks/manta.mtl" not in result.after
    assert result.delivery.proof.clean


@pytest.mark.parametrize("line", [b"", b"mtllib gone.mtl\n"], ids=["no library is named", "it is missing"])
def test_the_only_library_beside_the_frames_is_named_again(tmp_path: Path, line: bytes) -> None:
    files = {name: data.replace(b"mtllib manta.mtl\n", line) for name, data in shot().items()}
    files |= {"fin.mtl": b"newmtl fin\n", "old/manta.mtl": b"newmtl skin\nKd 0 0 0\n"}
    result = fixed(tmp_path, files, "share-library")
    assert {name: result.after[name] for name in shot()} == shot()
    assert not {"fin.mtl", "old/manta.mtl"} & result.after.keys()
    assert result.delivery.proof.clean


@pytest.mark.parametrize(
    ("libraries", "reason", "paths"),
    [
        (
            {"manta.mtl": MATERIALS["manta.mtl"], "wet.mtl": b"newmtl skin\n"},
            "the frames refer to no library; `manta.mtl` and `wet.mtl` define all materials of the frames; "
            "choose a library with",
            ["manta.mtl", "wet.mtl"],
        ),
        (
            {"looks/manta.mtl": MATERIALS["manta.mtl"].replace(b"skin.png", b"../skin.png")},
            "the frames refer to no library; `looks/manta.mtl` defines all materials of the frames, but is not beside "
            "the frames; choose a library with",
            ["looks/manta.mtl"],
        ),
    ],
    ids=["several", "in another folder"],
)
def test_a_library_that_would_be_a_guess_is_chosen_by_the_user(
    tmp_path: Path, libraries: dict[str, bytes], reason: str, paths: list[str]
) -> None:
    files = {name: data for name, data in UNNAMED.items() if name != "manta.mtl"} | libraries
    with pytest.raises(Refusal, match=reason) as refusal:
        plan_for(tmp_path / "asked", files, "share-library")
    assert refusal.value.answers == tuple(("--with", f"share-library:library={path}") for path in paths)
    result = fixed(tmp_path / "fixed", files, "share-library", {"library": paths[0]})
    assert {name: result.after[name] for name in shot()} == shot()
    assert result.delivery.proof.clean


def test_the_user_names_a_library_that_no_frame_names(tmp_path: Path) -> None:
    files = shot() | {"manta.mtl": b"newmtl fin\n", "wet.mtl": MATERIALS["manta.mtl"]}
    result = fixed(tmp_path / "fixed", files, "share-library", {"library": "wet.mtl"})
    assert all(result.after[name] == files[name].replace(b"manta.mtl", b"wet.mtl") for name in FRAMES)
    with pytest.raises(
        Refusal, match=r"there is no library dry\.mtl in the folder; it has `manta\.mtl` and `wet\.mtl`"
    ):
        plan_for(tmp_path / "asked", files, "share-library", {"library": "dry.mtl"})


def test_a_library_whose_name_a_frame_can_not_hold_is_not_chosen(tmp_path: Path) -> None:
    files = {name: data for name, data in UNNAMED.items() if name != "manta.mtl"} | {
        "a\nv 0 0 0.mtl": MATERIALS["manta.mtl"],
        " manta.mtl": MATERIALS["manta.mtl"],
    }
    with pytest.raises(Refusal, match="the frames refer to no library, and no library in the folder defines all"):
        plan_for(tmp_path, files, "share-library")


def test_one_frame_is_pointed_at_what_the_others_use(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot({4: naming("gone.mtl")}), "share-library")
    assert result.changed() == {NAME}
    assert result.after[NAME] == shot()[NAME]


def test_a_library_for_each_frame_becomes_one(tmp_path: Path) -> None:
    files = {name: data for name, data in shot().items() if name != "manta.mtl"}
    for number in range(1, 13):
        name = f"manta.{number:04}"
        files[f"{name}.obj"] = files[f"{name}.obj"].replace(b"manta.mtl", name.encode() + b".mtl")
        files[f"{name}.mtl"] = MATERIALS["manta.mtl"] + b"# frame %d\n" % number
    result = fixed(tmp_path, files, "share-library")
    assert [name for name in result.after if name.endswith(".mtl")] == ["manta.0001.mtl"]
    assert result.changed() == FRAMES - {"manta.0001.obj"}


def test_a_library_in_another_folder_is_put_where_the_frames_refer_to_it(tmp_path: Path) -> None:
    files = shot()
    files["looks/manta.mtl"] = files.pop("manta.mtl").replace(b"skin.png", b"../skin.png")
    plan = plan_for(tmp_path / "plan", files, "share-library")
    (step,) = (step for one in plan.sequences for step in one.steps)
    assert step.summary == "put manta.mtl where frames 1-12 refer to it"
    assert (step.preview[0].before, step.preview[0].after) == ("looks/manta.mtl", "manta.mtl")
    result = fixed(tmp_path / "fixed", files, "share-library")
    assert all(result.after[name] == files[name] for name in FRAMES)
    assert result.after["manta.mtl"] == MATERIALS["manta.mtl"]
    assert "looks/manta.mtl" not in result.after


def test_libraries_that_define_different_materials_are_merged(tmp_path: Path) -> None:
    files = {name: data.replace(b"mtllib manta.mtl", b"mtllib a.mtl") for name, data in shot().items()}
    files[NAME] = files[NAME].replace(b"a.mtl", b"a.mtl\nmtllib b/b.mtl") + b"usemtl eye\nf 1 2 3\n"
    files["a.mtl"] = b"newmtl skin\nmap_Kd skin.png\n"
    files["b/b.mtl"], files["b/eye.png"] = b"newmtl eye\nmap_Kd eye.png", b"an eye"
    del files["manta.mtl"]
    result = fixed(tmp_path, files, "share-library", frames=(4,))
    assert result.after["manta.mtl"] == b"newmtl skin\nmap_Kd skin.png\nnewmtl eye\nmap_Kd b/eye.png"
    assert result.after[NAME] == files[NAME].replace(b"a.mtl\nmtllib b/b.mtl", b"manta.mtl")
    assert result.after["b/eye.png"] == b"an eye"
    assert "b/b.mtl" not in result.after


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "already"),
        (
            all_naming("gone.mtl") | {"manta.mtl": b""},
            "none of the libraries named by the frames was found, and no library in the folder defines all",
        ),
        (
            UNNAMED | {"manta.mtl": b"newmtl fin\n"},
            "the frames refer to no library, and no library in the folder defines all",
        ),
        ({name: data.replace(b"usemtl skin\n", b"") for name, data in UNNAMED.items()}, "no face has a material"),
        (
            all_naming("lost.mtl") | {"a/lost.mtl": MATERIALS["manta.mtl"], "b/lost.mtl": MATERIALS["manta.mtl"]},
            r"lost\.mtl was found in several places: `a/lost\.mtl` and `b/lost\.mtl`; choose a library with",
        ),
        (
            shot({4: lambda mesh: mesh.edit(state=("usemtl chrome",))}),
            r"manta\.mtl does not define chrome",
        ),
        (
            all_naming("other.mtl", range(1, 7)) | {"other.mtl": b"newmtl skin\nKd 0 0 0\n"},
            "in different ways; choose a library with `--with share-library:library=FILE`",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "share-library")


def test_a_frame_that_refers_to_a_library_twice_counts_once(tmp_path: Path) -> None:
    twice = {number: naming("other.mtl", "other.mtl") for number in range(1, 6)}
    files = shot(twice) | {"other.mtl": MATERIALS["manta.mtl"]}
    plan = plan_for(tmp_path, files, "share-library")
    assert [step.parameters for one in plan.sequences for step in one.steps] == [{"libraries": ["manta.mtl"]}]


def test_of_two_that_differ_the_user_names_one(tmp_path: Path) -> None:
    files = all_naming("other.mtl", range(1, 7)) | {"other.mtl": b"newmtl skin\nKd 0 0 0\n"}
    with pytest.raises(Refusal, match=r"share-library: other\.mtl and manta\.mtl define") as refusal:
        plan_for(tmp_path / "asked", files, "share-library")
    answers = ("--with", "share-library:library=other.mtl"), ("--with", "share-library:library=manta.mtl")
    assert refusal.value.answers == answers
    result = fixed(tmp_path / "fixed", files, "share-library", {"library": "other.mtl"})
    assert all(b"mtllib other.mtl" in result.after[name] for name in FRAMES)
    assert "manta.mtl" not in result.after
