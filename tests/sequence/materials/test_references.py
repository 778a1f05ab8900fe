"""Tests of the files to which references lead.

Unless a test names a source, the rules follow common practice (no source).
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import pytest

from inspector.names import Name
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.references import Status, Target, resolve_libraries, resolve_map


@dataclass(frozen=True)
class Place:
    root: Path
    outside: Path

    @property
    def scope(self) -> Scope:
        return Scope(self.root)

    def map(self, name: bytes, library: str = "lib") -> Target:
        return resolve_map(Name(name), self.root / library, self.root / "frames", self.scope)

    def libraries(self, rest: bytes) -> list[tuple[bytes, Status, str | None]]:
        entries = resolve_libraries(Name(rest), self.root / "frames", self.scope)
        return [(name.raw, target.status, self.shown(target)) for name, target in entries]

    def shown(self, target: Target) -> str | None:
        return None if target.path is None else target.path.relative_to(self.root).as_posix()


@pytest.fixture
def place(tmp_path: Path) -> Place:
    base = tmp_path.resolve()
    for name in (
        "root/frames/shared.mtl", "root/frames/my file.mtl", "root/frames/b.mtl", "root/frames/Kelp.mtl",
        "root/frames/beside.png", "root/lib/manta.mtl", "root/lib/here.png", "root/lib/tex/skin.png",
        "root/lib/Tex2/Fin.PNG", "root/lib/my tex.png", "root/deep/tex/eye.png", "root/other/eye.png",
        "root/one/twin.png", "root/two/twin.png", "root/lib/grey #1.png", "outside/secret.png", "outside/out.mtl",
        "outside/here2.png",
    ):  # fmt: skip
        path = base / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    return Place(base / "root", base / "outside")


@pytest.mark.parametrize(
    ("name", "path"),
    [
        (b"here.png", "lib/here.png"),
        (b"tex/skin.png", "lib/tex/skin.png"),
        (b"./tex//skin.png", "lib/tex/skin.png"),
        (b"../deep/tex/eye.png", "deep/tex/eye.png"),
        (b"my tex.png", "lib/my tex.png"),
        (b"grey #1.png", "lib/grey #1.png"),
    ],
)
def test_a_map_as_written(place: Place, name: bytes, path: str) -> None:
    assert place.map(name) == Target(Status.FOUND, place.root / path)


@pytest.mark.parametrize(
    ("name", "path", "how"),
    [
        (b"Here.png", "lib/here.png", "letter case differs"),
        (b"Tex/skin.png", "lib/tex/skin.png", "the case of a folder's name differs"),
        (b"tex\\skin.png", "lib/tex/skin.png", "written with backslashes"),
        (b'"tex/skin.png"', "lib/tex/skin.png", "written in quotation marks"),
        (b"beside.png", "frames/beside.png", "beside the frames, not beside the library"),
        (b"skin.png", "lib/tex/skin.png", "elsewhere in the folder"),
        (b"../../old/skin.png", "lib/tex/skin.png", "elsewhere in the folder"),
        (b"D:\\work\\tex\\skin.png", "lib/tex/skin.png",
         "written with backslashes; a drive letter or absolute path from another machine; elsewhere in the folder"),
        (b"/mnt/work/skin.png", "lib/tex/skin.png",
         "a drive letter or absolute path from another machine; elsewhere in the folder"),
        (b"\\\\host\\share\\skin.png", "lib/tex/skin.png",
         "written with backslashes; a drive letter or absolute path from another machine; elsewhere in the folder"),
        (b"tex2\\fin.png", "lib/Tex2/Fin.PNG",
         "written with backslashes; letter case differs; "
         "the case of a folder's name differs"),
    ],
)  # fmt: skip
def test_a_near_map(place: Place, name: bytes, path: str, how: str) -> None:
    assert place.map(name) == Target(Status.NEAR, place.root / path, how)


def test_an_absolute_path_inside_is_near(place: Place) -> None:
    target = place.map(os.fsencode(place.root / "lib/here.png"))
    assert (target.status, target.path) == (Status.NEAR, place.root / "lib/here.png")


def test_a_backslash_is_never_as_written(place: Place) -> None:
    """POSIX allows a backslash in a file name (POSIX.1-2017, 3.170 Filename), but other systems read it as a path
    separator."""
    (place.root / "lib" / "a\\b.png").write_bytes(b"")
    target = place.map(b"a\\b.png")
    assert (target.status, target.how) == (Status.NEAR, "written with backslashes")
    assert target.path == place.root / "lib" / "a\\b.png"


def test_accents_coded_otherwise(place: Place) -> None:
    """The reference has a composed é, and the file name a decomposed é (Unicode Standard Annex 15, figure 4)."""
    (place.root / "lib" / "cafe\u0301.png").write_bytes(b"")
    target = place.map("caf\u00e9.png".encode())
    assert (target.status, target.how) == (Status.NEAR, "the name encodes its accents in a different way")


def test_of_equal_candidates_the_first_and_its_rivals(place: Place) -> None:
    target = place.map(b"gone/twin.png")
    assert (target.status, target.path) == (Status.NEAR, place.root / "one/twin.png")
    assert target.rivals == (place.root / "two/twin.png",)
    assert place.map(b"two/twin.png").rivals == ()
    assert place.shown(place.map(b"two/twin.png")) == "two/twin.png"


def test_a_file_that_shares_more_folders_goes_first(place: Place) -> None:
    target = place.map(b"x\\tex\\eye.png")
    assert place.shown(target) == "deep/tex/eye.png"
    assert target.how == "written with backslashes; elsewhere in the folder"
    assert (target.rivals, target.others) == ((), (place.root / "other/eye.png",))


@pytest.mark.parametrize("own", ["lib/skin.png", "lib/tex/skin.png", "frames/skin.png", "frames/tex/skin.png"])
def test_a_file_beside_the_library_or_the_frames_goes_before_one_elsewhere(tmp_path: Path, own: str) -> None:
    """The preference holds even if the path of another file matches better (common practice, no source)."""
    elsewhere = "old/show/tex/skin.png"
    place = Place(tmp_path.resolve(), tmp_path)
    for name in (own, elsewhere, "lib/x/skin.png"):
        path = place.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    target = place.map(b"D:\\show\\tex\\skin.png")
    assert place.shown(target) == own
    assert target.rivals == ()
    assert target.others == (place.root / elsewhere, place.root / "lib/x/skin.png")


def test_a_file_beside_the_library_goes_before_one_beside_the_frames(tmp_path: Path) -> None:
    place = Place(tmp_path.resolve(), tmp_path)
    for folder in ("lib", "frames/tex"):
        (place.root / folder).mkdir(parents=True)
        (place.root / folder / "skin.png").write_bytes(b"")
    target = place.map(b"C:\\x\\tex\\skin.png")
    assert place.shown(target) == "lib/skin.png"
    assert target.others == (place.root / "frames/tex/skin.png",)


@pytest.mark.parametrize("name", [b"Textures\\Skin.PNG", b"C:\\show\\Skin.PNG", b"gone/skin.png"])
def test_a_sequence_takes_its_own_before_a_neighbours(tmp_path: Path, name: bytes) -> None:
    """The sequence has the same texture as if only its own folder were inspected."""
    for shot in ("kelp_v1", "kelp_v2", "kelp_v3"):
        (tmp_path / shot / "textures").mkdir(parents=True)
        (tmp_path / shot / "textures" / "skin.png").write_bytes(b"")
    for shot in ("kelp_v1", "kelp_v2", "kelp_v3"):
        folder = tmp_path / shot
        target = resolve_map(Name(name), folder, folder, Scope(tmp_path))
        alone = resolve_map(Name(name), folder, folder, Scope(folder))
        assert (target.path, target.how) == (alone.path, alone.how)
        assert (target.path, target.rivals) == (folder.resolve() / "textures" / "skin.png", ())


def test_further_folders_stay_in_their_order(tmp_path: Path) -> None:
    shot, near, far = tmp_path / "shots" / "kelp", tmp_path / "shots" / "old", tmp_path / "library"
    for folder in (shot, near, far):
        folder.mkdir(parents=True)
    for folder in (near, far):
        (folder / "skin.png").write_bytes(b"")
    target = resolve_map(Name(b"gone/skin.png"), shot, shot, Scope(shot, (far, near)))
    assert (target.path, target.rivals) == (far.resolve() / "skin.png", (near.resolve() / "skin.png",))


def test_of_two_cases_the_exact_one(place: Place) -> None:
    for name in ("x/SEA.png", "y/sea.png", "z/Sea.png"):
        path = place.root / name
        path.parent.mkdir()
        path.write_bytes(b"")
    target = place.map(b"sea.png")
    assert (target.path, target.rivals) == (place.root / "y/sea.png", ())


@pytest.mark.parametrize(
    "name", [b"none.png", b"tex/none.png", b"C:\\x\\none.png", b"", b"tex", b"tex/", b".", b"a\0b", b'"', b"n" * 300]
)
def test_missing(place: Place, name: bytes) -> None:
    assert place.map(name) == Target(Status.MISSING)


@pytest.mark.parametrize(
    "name",
    [b"../../outside/secret.png", b"../../outside/none.png", b"..\\..\\outside\\secret.png", b"/etc/hostname",
     b"\\\\host\\share\\none.png", b"//host/share/none.png", b'"/etc/hostname"', b".."],
)  # fmt: skip
def test_outside_by_its_text(place: Place, name: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """Paths outside the folder must not be accessed. With an automounter, accessing such a path would connect to
    another machine."""
    looked: list[str] = []
    real = os.stat
    monkeypatch.setattr(os, "stat", lambda path, **kw: (looked.append(os.fspath(path)), real(path, **kw))[1])
    library = "." if name == b".." else "lib"
    target = place.map(name, library)
    assert (target.status, target.path) == (Status.OUTSIDE, None)
    assert target.how == "a path outside the inspected folder and the --textures folders"
    assert not [path for path in looked if not path.startswith(str(place.root))]


def test_an_absolute_path_outside_stays_outside(place: Place) -> None:
    assert place.map(os.fsencode(place.outside / "secret.png")).status is Status.OUTSIDE


@pytest.mark.parametrize("name", [b"away.png", b"door/secret.png", b"door\\secret.png", b'"away.png"'])
def test_outside_through_a_link(place: Place, name: bytes) -> None:
    (place.root / "lib" / "away.png").symlink_to(place.outside / "secret.png")
    (place.root / "lib" / "door").symlink_to(place.outside)
    target = place.map(name)
    assert (target.status, target.path) == (Status.OUTSIDE, None)
    assert target.how == "a link to a file that is in neither the inspected folder nor a --textures folder"


def test_a_search_by_name_passes_links_that_lead_outside(place: Place) -> None:
    (place.root / "other" / "here2.png").symlink_to(place.outside / "here2.png")
    (place.root / "other" / "door").symlink_to(place.outside)
    assert place.map(b"here2.png").status is Status.MISSING
    assert place.scope.by_base_name(b"here2.png") == []


def test_links_inside_are_fine(place: Place) -> None:
    (place.root / "lib" / "link.png").symlink_to("tex/skin.png")
    (place.root / "lib" / "loop.png").symlink_to("loop.png")
    assert place.map(b"link.png") == Target(Status.FOUND, place.root / "lib/link.png")
    assert place.map(b"loop.png").status is Status.MISSING


def test_pipes_and_folders_are_no_targets(place: Place) -> None:
    os.mkfifo(place.root / "lib" / "pipe.png")
    (place.root / "lib" / "folder.png").mkdir()
    assert place.map(b"pipe.png").status is Status.MISSING
    assert place.map(b"folder.png").status is Status.MISSING


def test_an_added_root(place: Place) -> None:
    scope = Scope(place.root, [place.outside])
    target = resolve_map(Name(b"secret.png"), place.root / "lib", place.root / "frames", scope)
    assert (target.status, target.path) == (Status.NEAR, place.outside / "secret.png")
    written = resolve_map(Name(b"../../outside/secret.png"), place.root / "lib", place.root / "frames", scope)
    assert written == Target(Status.FOUND, place.outside / "secret.png")


def test_names_of_any_bytes(place: Place) -> None:
    raw = b"\xff\x1b[2J'$(x)\n.png"
    Path(os.fsdecode(os.fsencode(place.root / "lib") + b"/" + raw)).write_bytes(b"")
    target = place.map(raw)
    assert target.status is Status.FOUND
    assert target.path is not None
    assert os.fsencode(target.path.name) == raw
    assert place.map(b"x\\" + raw).status is Status.NEAR


FOUND, NEAR, MISSING, OUTSIDE = Status.FOUND, Status.NEAR, Status.MISSING, Status.OUTSIDE


@pytest.mark.parametrize(
    ("rest", "entries"),
    [
        (b"shared.mtl", [(b"shared.mtl", FOUND, "frames/shared.mtl")]),
        (b"../lib/manta.mtl", [(b"../lib/manta.mtl", FOUND, "lib/manta.mtl")]),
        (b" my file.mtl \t", [(b"my file.mtl", FOUND, "frames/my file.mtl")]),
        # OBJ Appendix B1 v3.0, mtllib: several file names on one line are searched in order.
        (b"shared.mtl b.mtl", [(b"shared.mtl", FOUND, "frames/shared.mtl"), (b"b.mtl", FOUND, "frames/b.mtl")]),
        (b"b.mtl\tgone.mtl", [(b"b.mtl", FOUND, "frames/b.mtl"), (b"gone.mtl", MISSING, None)]),
        (b"shared.mtl # of the manta", [(b"shared.mtl", FOUND, "frames/shared.mtl")]),
        (b"gone.mtl lost.mtl", [(b"gone.mtl", MISSING, None), (b"lost.mtl", MISSING, None)]),
        (b"kelp.mtl ../lib/Manta.mtl",
         [(b"kelp.mtl", NEAR, "frames/Kelp.mtl"), (b"../lib/Manta.mtl", NEAR, "lib/manta.mtl")]),
        (b'"my file.mtl"', [(b'"my file.mtl"', NEAR, "frames/my file.mtl")]),
        (b'"shared.mtl" "my file.mtl"',
         [(b'"shared.mtl"', NEAR, "frames/shared.mtl"), (b'"my file.mtl"', NEAR, "frames/my file.mtl")]),
        (b"My File.mtl", [(b"My File.mtl", NEAR, "frames/my file.mtl")]),
        (b"manta.mtl", [(b"manta.mtl", NEAR, "lib/manta.mtl")]),
        (b"C:\\My Work\\SHARED.mtl", [(b"C:\\My Work\\SHARED.mtl", NEAR, "frames/shared.mtl")]),
        (b"not there at all.mtl", [(b"not there at all.mtl", MISSING, None)]),
        (b"", [(b"", MISSING, None)]),
        (b"../../outside/out.mtl", [(b"../../outside/out.mtl", OUTSIDE, None)]),
        (b"/etc/x.mtl /etc/y.mtl", [(b"/etc/x.mtl", OUTSIDE, None), (b"/etc/y.mtl", OUTSIDE, None)]),
    ],
)  # fmt: skip
def test_libraries(place: Place, rest: bytes, entries: list[tuple[bytes, Status, str | None]]) -> None:
    assert place.libraries(rest) == entries


def test_scope_contains(place: Place) -> None:
    (place.root / "door").symlink_to(place.outside)
    sibling = place.root.with_name("root2")
    sibling.mkdir()
    scope = place.scope
    assert scope.contains(place.root / "lib" / "here.png")
    assert scope.contains(place.root)
    assert not scope.contains(place.root / "door" / "secret.png")
    assert not scope.contains(place.root / ".." / "outside")
    assert not scope.contains(sibling)
    assert not scope.contains(Path("nul\0"))


def test_a_root_given_through_a_link(place: Place) -> None:
    link = place.root.with_name("link")
    link.symlink_to(place.root)
    target = resolve_map(Name(b"here.png"), link / "lib", link / "frames", Scope(link))
    assert target == Target(Status.FOUND, place.root / "lib/here.png")


def test_search_order_and_bound(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    assert [path.parent.name for path in place.scope.by_base_name(b"eye.png")] == ["other", "tex"]
    assert place.scope.by_base_name(b"EYE.png") == place.scope.by_base_name(b"eye.png")
    (place.root / ".hidden").mkdir()
    (place.root / ".hidden" / "eye.png").write_bytes(b"")
    assert len(place.scope.by_base_name(b"eye.png")) == 2
    monkeypatch.setattr("inspector.sequence.discovery.scope.INDEX_LIMIT", 3)
    assert place.scope.by_base_name(b"eye.png") == []


def test_a_folder_that_cannot_be_read_is_passed(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    """`os.scandir` is replaced with a function that refuses access to the folder, because the tests may run as root,
    who can read every folder."""
    scandir = os.scandir

    def refuse(path: Path) -> object:
        if Path(path).name == "other":
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refuse)
    assert place.scope.by_base_name(b"eye.png") == [place.root / "deep/tex/eye.png"]


@pytest.mark.parametrize(
    ("name", "status"),
    [
        (b"skin.<UDIM>.png", Status.FOUND),
        (b"skin.<udim>.png", Status.FOUND),
        (b'"skin.<UDIM>.png"', Status.NEAR),
        (b"..\\lib\\skin.<UDIM>.png", Status.NEAR),
        (b"gone/skin.<UDIM>.png", Status.NEAR),
        (b"coral.<UDIM>.png", Status.MISSING),
        (b"../../outside/skin.<UDIM>.png", Status.OUTSIDE),
    ],
)
def test_a_token_stands_for_all_tiles(name: bytes, status: Status, place: Place) -> None:
    for tile in ("1002", "1011", "1001"):
        (place.root / "lib" / f"skin.{tile}.png").touch()
    (place.root / "lib" / "skin.1001.exr").touch()
    (place.root / "lib" / "skin.12.png").touch()
    (place.outside / "coral.1001.png").touch()
    target = place.map(name)
    assert target.status is (Status.NEAR if b"outside" in name else status)
    if target.path is not None:
        assert [path.name for path in target.files] == ["skin.1001.png", "skin.1002.png", "skin.1011.png"]
        assert target.written_as("maps/skin.1001.png").lower() == b"maps/skin.<udim>.png"


def test_tiles_by_column_and_row_need_not_begin_at_the_first(place: Place) -> None:
    for tile in ("u2_v1", "u1_v2"):
        (place.root / "lib" / f"fin_{tile}.tif").touch()
    target = place.map(b"fin_<UVTILE>.tif")
    assert target.status is Status.FOUND
    assert [path.name for path in target.files] == ["fin_u1_v2.tif", "fin_u2_v1.tif"]


def test_the_first_of_numbered_tiles_brings_the_others(place: Place) -> None:
    for tile in (1001, 1002, 1013):
        (place.root / "lib" / f"eye.{tile}.png").touch()
    assert [path.name for path in place.map(b"eye.1001.png").files] == ["eye.1001.png", "eye.1002.png", "eye.1013.png"]
    assert [path.name for path in place.map(b"eye.1002.png").files] == ["eye.1002.png"]


def test_tiles_that_a_link_takes_outside_stay_there(place: Place) -> None:
    (place.root / "lib" / "skin.1001.png").touch()
    (place.root / "lib" / "skin.1002.png").symlink_to(place.outside / "secret.png")
    assert [path.name for path in place.map(b"skin.<UDIM>.png").files] == ["skin.1001.png"]


def test_what_follows_a_name_is_why_it_is_not_found_as_written(place: Place) -> None:
    target = resolve_map(Name(b"here.png"), place.root / "lib", place.root / "frames", place.scope, followed=True)
    assert (target.status, target.how) == (Status.NEAR, "an option or a comment follows the name")
