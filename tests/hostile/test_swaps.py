"""Tests of paths that are replaced by a link after they are checked and before they are used."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from fractions import Fraction
from pathlib import Path

import pytest
from pxr import Sdf, UsdShade, UsdUtils

from inspector.delivery.audit import audit
from inspector.delivery.choices import Choice
from inspector.delivery.deliver import deliver
from inspector.delivery.output_file import refuse_early, write_new, write_placed
from inspector.delivery.plan import Plan
from inspector.delivery.planning import make_plan
from inspector.delivery.staging_folder import Staging
from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.errors import MeshqcError, Refusal
from inspector.formats.animation import Take
from inspector.inspection.folder_rules import load_rules
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.animations import open_animation
from inspector.sequence.discovery.discover import discover
from inspector.sequence.discovery.receipt_marks import read_marks
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.executors import InlineExecutor
from inspector.tui import saved_state
from tests.helpers.broken.uvs import bare
from tests.helpers.command import digests
from tests.helpers.gltf import scene, triangle
from tests.helpers.hostile.swapping import Swap, instead, swap  # noqa: F401
from tests.helpers.images import image_file, spots
from tests.helpers.sequences import finding_of, shot, write
from tests.helpers.usd_stages import add_mesh, bind, stage_at

SECRET = b"newmtl secret\nKd 1 0 0\n"


def gltf_shot(folder: Path) -> Path:
    document, primitive = triangle(material=0)
    look = {
        "images": [{"uri": "skin.png"}],
        "textures": [{"source": 0}],
        "materials": [{"name": "skin", "pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}}],
    }
    text = document.json({**scene([primitive]), **look}, "kelp.bin")
    files = {f"kelp.{number:04}.gltf": text for number in range(1, 6)}
    return write(folder, {**files, "kelp.bin": document.buffer, "skin.png": image_file(spots())})


def test_buffers_and_textures_of_gltf(tmp_path: Path, swap: Swap) -> None:  # noqa: F811
    folder, outside = gltf_shot(tmp_path / "in"), gltf_shot(tmp_path / "outside")
    swap(folder / "kelp.bin", outside / "kelp.bin")
    swap(folder / "skin.png", outside / "skin.png")
    inspection = inspect_folder(folder, executor=InlineExecutor()).inspections[0]
    assert (folder / "kelp.bin").is_symlink()
    assert len(finding_of(inspection, "unreadable").frames) == 5


def test_a_texture_of_gltf(tmp_path: Path, swap: Swap) -> None:  # noqa: F811
    folder, outside = gltf_shot(tmp_path / "in"), gltf_shot(tmp_path / "outside")
    swap(folder / "skin.png", outside / "skin.png")
    inspection = inspect_folder(folder, executor=InlineExecutor()).inspections[0]
    assert (folder / "skin.png").is_symlink()
    assert "the file was replaced by a link" in finding_of(inspection, "texture-damaged").message


def test_a_folder_that_is_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, outside = write(tmp_path / "in" / "deep", shot()), write(tmp_path / "outside", shot())
    (outside / "secret.obj").touch()
    usual = os.scandir

    def scandir(path: bytes) -> object:
        if path == os.fsencode(folder):
            instead(folder, outside)
        return usual(path)

    monkeypatch.setattr(os, "scandir", scandir)
    discovery = discover(tmp_path / "in")
    assert folder.is_symlink()
    assert not discovery.sequences
    assert [(path.name, "was replaced by a link" in reason) for path, reason in discovery.left_out] == [("deep", True)]


def test_a_donor(tmp_path: Path, swap: Swap) -> None:  # noqa: F811
    """One fix is enough, because all fixes read donors with the same function."""
    outside = write(tmp_path / "outside", shot())
    folder = write(tmp_path / "in", {**shot({1: bare}), "rest.obj": (outside / "manta.0001.obj").read_bytes()})
    inspection = inspect_folder(folder, executor=InlineExecutor())
    donor = Choice("uv-donor", {"from": str(folder / "rest.obj")}, asked=True)
    assert make_plan(inspection, [donor]).steps
    swap(folder / "rest.obj", outside / "manta.0001.obj")
    with pytest.raises(MeshqcError, match="was replaced by a link"):
        make_plan(inspection, [donor])
    assert (folder / "rest.obj").is_symlink()


def test_rules(tmp_path: Path, swap: Swap) -> None:  # noqa: F811
    folder = write(tmp_path / "in", {**shot(), "meshqc.toml": b"[mesh]\nfaces = 3\n"})
    away = write(tmp_path / "outside", {"meshqc.toml": b"[secret]\n"}) / "meshqc.toml"
    swap(folder / "meshqc.toml", away)
    with pytest.raises(MeshqcError, match="was replaced by a link"):
        load_rules(folder)
    with pytest.raises(MeshqcError, match="a link to a file outside the folder, so it is not followed") as refused:
        load_rules(folder)  # this time, the link exists from the beginning
    assert "secret" not in str(refused.value)
    assert (
        load_rules(folder, away.with_name("own.toml").symlink_to(away) or folder / "was meshqc.toml").file is not None
    )


def usd_shot(folder: Path) -> Path:
    folder.mkdir()
    for name in ("reef.usda", "kelp.usda"):
        stage = stage_at(folder / name)
        if name == "reef.usda":
            add_mesh(stage)
            stage.SetDefaultPrim(stage.GetPrimAtPath("/kelp"))
        else:
            stage.DefinePrim("/here").GetReferences().AddReference("./reef.usda")
        stage.Save()
    return folder


def test_a_layer_of_a_stage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """OpenUSD opens layers itself, without using our functions for opening files."""
    folder, outside = usd_shot(tmp_path / "in"), usd_shot(tmp_path / "outside")
    assert len(open_animation(folder / "kelp.usda").meshes) == 1
    usual = Sdf.Layer.FindOrOpen

    def opened(where: str, *rest: object) -> object:
        if where.endswith("reef.usda"):
            instead(folder / "reef.usda", outside / "reef.usda")
        return usual(where, *rest)

    monkeypatch.setattr(Sdf.Layer, "FindOrOpen", opened)
    with pytest.raises(MeshqcError, match="was replaced by another file"):
        open_animation(folder / "kelp.usda")
    assert (folder / "reef.usda").is_symlink()


@pytest.mark.parametrize("name", ["kelp.usda", "kelp.usdz"])
def test_a_texture_of_a_stage(name: str, tmp_path: Path, swap: Swap) -> None:  # noqa: F811
    folder, other = tmp_path / "in", write(tmp_path / "outside", {"skin.png": b"secret"})
    folder.mkdir()
    (folder / "skin.png").write_bytes(image_file(spots()))
    stage = stage_at(folder / "kelp.usda")
    skin = bind(stage, "/skin", (0, 0, 0), "./skin.png")
    UsdShade.MaterialBindingAPI.Apply(add_mesh(stage).GetPrim()).Bind(skin)
    stage.Save()
    if name == "kelp.usdz":
        assert UsdUtils.CreateNewUsdzPackage(str(folder / "kelp.usda"), str(folder / name))
        (other / name).write_bytes(b"secret")
    assert _picture(folder / name) == image_file(spots())
    taken = folder / (name if name == "kelp.usdz" else "skin.png")
    swap(taken, other / taken.name)
    assert _picture(folder / name) is None
    assert taken.is_symlink()


def _picture(path: Path) -> bytes | None:
    (material,) = open_animation(path).mesh(Fraction(1), Take()).materials
    return material.maps[0].image.data if material.maps else None


@pytest.fixture
def victim(tmp_path: Path) -> Path:
    """Return a folder that no command uses, with files named like those of a delivery and its staging folder."""
    names = ("draft", "journal", "manta.0001.obj", "files/manta.0001.obj", "files/textures/skin.png", "skin.png")
    return write(tmp_path / "victim", dict.fromkeys(names, b"precious"))


@pytest.fixture
def planned(tmp_path: Path) -> Plan:
    inspection = inspect_folder(write(tmp_path / "in", shot()), executor=InlineExecutor())
    return make_plan(inspection, [Choice("scale", {"factor": "2"}, asked=True)])


@pytest.mark.parametrize("part", [".", "files", "journal", "draft", "files/manta.0007.obj"])
@pytest.mark.parametrize("at", [("write", 5), ("read back", 3), ("check", 2)], ids=lambda one: one[0])
def test_parts_of_the_staging_folder(
    part: str, at: tuple[str, int], tmp_path: Path, victim: Path, planned: Plan
) -> None:
    """Anyone who can write beside OUT can replace the staging folder, or a file in it, with a link."""
    before, out = digests(victim), tmp_path / "out"
    place = Staging(out, "").folder / part
    done = []

    def progress(doing: str, number: int, _: int) -> None:
        if (doing, number) == at:
            done.append(place)
            if place.exists():
                instead(place, victim / part if (victim / part).exists() else victim / "skin.png")
            else:
                place.symlink_to(victim / "draft")

    with contextlib.suppress(MeshqcError):
        deliver(planned, out, progress)
        assert not [path for path in out.rglob("*") if path.is_symlink()]
        assert b"precious" not in {path.read_bytes() for path in out.rglob("*") if path.is_file()}
        assert audit(out, Settings(), lambda _, __: None).proven
    assert done
    assert digests(victim) == before
    assert digests(tmp_path / "in").keys() == shot().keys()


def test_a_link_in_the_place_of_out(tmp_path: Path, victim: Path, planned: Plan) -> None:
    before, out = digests(victim), tmp_path / "out"

    def progress(doing: str, number: int, _: int) -> None:
        if (doing, number) == ("write", 3):
            out.symlink_to(victim)

    with pytest.raises(Refusal, match="taken in the meantime"):
        deliver(planned, out, progress)
    assert digests(victim) == before
    assert out.is_symlink()


def test_a_link_in_the_place_of_the_folder_that_out_is_in(
    tmp_path: Path,
    victim: Path,
    planned: Plan,
    swap: Swap,  # noqa: F811
) -> None:
    before = digests(victim)
    (tmp_path / "shots").mkdir()
    swap(tmp_path / "shots", victim)
    with pytest.raises(MeshqcError, match="the folder was replaced by"):
        deliver(planned, tmp_path / "shots" / "out")
    assert (tmp_path / "shots").is_symlink()
    assert digests(victim) == before


def test_frames_that_are_unpacked(tmp_path: Path, victim: Path) -> None:
    before, out = digests(victim), tmp_path / "out"
    path = usd_shot(tmp_path / "in") / "kelp.usda"
    animation = open_animation(path)

    def progress(_: int, __: int) -> None:
        instead(Staging(out, "").folder, victim)

    with pytest.raises(MeshqcError, match="was moved or replaced"):
        unpack(path, animation, UnpackRequest(animation.frames, Take()), out, progress)
    assert digests(victim) == before
    assert not out.exists()


def test_a_single_file(tmp_path: Path, victim: Path) -> None:
    before, read = digests(victim), Scope(tmp_path / "in")
    (tmp_path / "pictures").mkdir()
    (place,) = refuse_early([tmp_path / "pictures" / "manta.png"], (".png",), read)
    instead(tmp_path / "pictures", victim)
    with pytest.raises(OSError, match="the folder was replaced by"):
        write_placed(place, b"picture")
    (tmp_path / "manta.png").symlink_to(victim / "new.png")
    with pytest.raises(Refusal, match="already exists"):
        write_new(tmp_path / "manta.png", b"picture")
    assert digests(victim) == before


def test_a_delivery_that_is_verified(
    tmp_path: Path,
    victim: Path,
    planned: Plan,
    swap: Swap,  # noqa: F811
) -> None:
    out = tmp_path / "out"
    deliver(planned, out)
    same = tmp_path / "outside.obj"
    same.write_bytes((out / "manta.0004.obj").read_bytes())
    swap(out / "manta.0004.obj", same)
    found = audit(out, Settings(), lambda _, __: None)
    assert "manta.0004.obj" in found.missing
    assert not found.proven


def test_a_receipt_that_is_a_link_is_not_read(tmp_path: Path) -> None:
    folder = write(tmp_path / "in", shot())
    after = hashlib.sha256((folder / "manta.0003.obj").read_bytes()).hexdigest()
    receipt = {"files": [{"path": "manta.0003.obj", "invented": "hold", "after": after}]}
    (tmp_path / "outside.json").write_text(json.dumps(receipt))
    (folder / "meshqc-receipt.json").write_text(json.dumps(receipt))
    assert read_marks(folder).invented
    (folder / "meshqc-receipt.json").unlink()
    (folder / "meshqc-receipt.json").symlink_to(tmp_path / "outside.json")
    assert not read_marks(folder).invented
    with pytest.raises(MeshqcError, match="outside the inspected folder"):
        audit(folder, Settings(), lambda _, __: None)


@pytest.mark.parametrize("waiting", ["meshqc", "meshqc/facts.sqlite"])
def test_a_link_that_waits_where_the_cache_is(waiting: str, tmp_path: Path) -> None:
    away = tmp_path / "away"
    if waiting == "meshqc":
        away.mkdir()
    (tmp_path / "cache" / waiting).parent.mkdir(parents=True)
    (tmp_path / "cache" / waiting).symlink_to(away)
    folder = write(tmp_path / "in", shot())
    cache = FactsCache(tmp_path / "cache" / "meshqc")
    assert len(inspect_folder(folder, cache=cache, executor=InlineExecutor()).inspections) == 1
    cache.close()
    assert not away.exists() or not list(away.iterdir())


@pytest.mark.parametrize("waiting", ["meshqc", "meshqc/state.json"])
def test_a_link_that_waits_where_the_state_is(waiting: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    away = tmp_path / "away"
    if waiting == "meshqc":
        away.mkdir()
        (away / "state.json").write_text(
            json.dumps({"format": saved_state.FORMAT, "last": str(tmp_path), "folders": {}})
        )
    else:
        away.write_text(json.dumps({"format": saved_state.FORMAT, "last": str(tmp_path), "folders": {}}))
    (tmp_path / "state" / waiting).parent.mkdir(parents=True, mode=0o700)
    (tmp_path / "state" / waiting).symlink_to(away)
    before = digests(tmp_path / "away") if away.is_dir() else away.read_bytes()
    assert saved_state.last_folder() is None
    saved_state.save(tmp_path, saved_state.SavedState())
    assert before == (digests(tmp_path / "away") if away.is_dir() else away.read_bytes())
    assert (saved_state.last_folder() is None) == away.is_dir(), "a link in a folder of our own is replaced"
