"""Tests of the discovery of sequences.

Unless a test names a source, the naming rules follow common practice (no source).
"""

from __future__ import annotations

import os
import random
import socket
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspector.errors import MeshqcError
from inspector.sequence.discovery.discover import MOST_MISSING, Discovery, Sequence, discover
from inspector.sequence.discovery.numbering import Numeral, grid_of, padding_of


def found(folder: Path, *names: str) -> Discovery:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"v 0 0 0\n")
    return discover(folder)


def only(discovery: Discovery) -> Sequence:
    (sequence,) = discovery.sequences
    return sequence


def names(sequence: Sequence) -> list[str]:
    return [file.path.name for file in sequence.files]


def numbers(sequence: Sequence) -> list[Fraction]:
    return [file.number for file in sequence.files]


def test_padded_sequence(tmp_path: Path) -> None:
    sequence = only(found(tmp_path, *(f"manta.{number:04d}.obj" for number in range(1, 25))))
    assert numbers(sequence) == list(range(1, 25))
    assert sequence.pattern.raw == b"manta.####.obj"
    assert sequence.name.raw == b"manta"
    assert (sequence.stem.raw, sequence.suffix.raw, sequence.padding) == (b"manta.", b".obj", 4)
    assert (sequence.folder, sequence.relative.raw) == (tmp_path.resolve(), b".")
    assert (sequence.step, sequence.missing) == (1, ())
    status = (tmp_path / "manta.0003.obj").stat()
    assert (sequence.files[2].size, sequence.files[2].mtime_ns) == (8, status.st_mtime_ns)
    assert sequence.files[2].name.raw == b"manta.0003.obj"


@pytest.mark.parametrize(
    ("files", "pattern", "name", "expected"),
    [
        (["manta.9.obj", "manta.10.obj", "manta.8.obj"], b"manta.#.obj", b"manta", [8, 9, 10]),
        (["0001.obj", "0002.obj"], b"####.obj", None, [1, 2]),
        (["kelp_0.obj", "kelp_1.obj"], b"kelp_#.obj", b"kelp", [0, 1]),
        (["kelp0000.obj", "kelp0001.obj"], b"kelp####.obj", b"kelp", [0, 1]),
        (["walk-0001.obj", "walk-0002.obj"], b"walk-####.obj", b"walk", [1, 2]),
        (["manta.1001.obj", "manta.1002.obj"], b"manta.####.obj", b"manta", [1001, 1002]),
        (["manta.998.obj", "manta.1001.obj", "manta.1000.obj", "manta.999.obj"], b"manta.#.obj", b"manta",
         [998, 999, 1000, 1001]),
        (["manta.9999.obj", "manta.10000.obj", "manta.0998.obj"], b"manta.####.obj", b"manta",
         [998, 9999, 10000]),
        (["shot.010.0001.obj", "shot.010.0002.obj"], b"shot.010.####.obj", b"shot.010", [1, 2]),
        (["jelly v2 0001.obj", "jelly v2 0002.obj"], b"jelly v2 ####.obj", b"jelly v2", [1, 2]),
    ],
)  # fmt: skip
def test_names(tmp_path: Path, files: list[str], pattern: bytes, name: bytes | None, expected: list[int]) -> None:
    sequence = only(found(tmp_path, *files))
    assert sequence.pattern.raw == pattern
    assert sequence.name.raw == (os.fsencode(tmp_path.name) if name is None else name)
    assert numbers(sequence) == expected


def test_several_sequences_stills_and_side_files(tmp_path: Path) -> None:
    discovery = found(
        tmp_path,
        "manta.0001.obj", "manta.0002.obj", "manta.0001.mtl", "manta.0001.png", "manta.0001.obj.bak", "notes.txt",
        "kelp_1.obj", "kelp_2.obj", "kelp_rest.obj", "kelp2.obj", "b/jelly.1.obj", "b/jelly.2.obj",
        "a/deep/jelly.1.obj", "a/deep/jelly.2.obj", "a/still.obj", ".cache/manta.0001.obj",
        ".OUT.part/manta.0002.obj", "._manta.0003.obj",
    )  # fmt: skip
    listed = [(sequence.relative.raw, sequence.pattern.raw) for sequence in discovery.sequences]
    assert listed == [
        (b".", b"kelp_#.obj"),
        (b".", b"manta.####.obj"),
        (b"a/deep", b"jelly.#.obj"),
        (b"b", b"jelly.#.obj"),
    ]
    stills = [path.relative_to(discovery.root).as_posix() for path in discovery.stills]
    assert stills == ["kelp_rest.obj", "kelp2.obj", "a/still.obj"]
    assert discovery.unusual == ()


@pytest.mark.parametrize("name", ["jelly.0001.obj", "jelly_0017.obj", "1001.obj"])
def test_a_lone_frame_is_a_sequence_of_one(tmp_path: Path, name: str) -> None:
    sequence = only(found(tmp_path, name))
    assert names(sequence) == [name]
    assert (sequence.step, sequence.missing) == (1, ())


@pytest.mark.parametrize("name", ["jelly2.obj", "jelly_v003.obj", "jelly_03.obj"])
def test_a_lone_number_of_another_kind_is_a_still(tmp_path: Path, name: str) -> None:
    discovery = found(tmp_path, name)
    assert [path.name for path in discovery.stills] == [name]
    assert discovery.sequences == ()


def test_upper_case_ending_counts(tmp_path: Path) -> None:
    sequence = only(found(tmp_path, "manta.1.OBJ", "manta.2.obj", "manta.3.OBJ"))
    assert numbers(sequence) == [1, 2, 3]
    assert sequence.pattern.raw == b"manta.#.OBJ"


def test_repeats_and_mixed_padding_are_one_sequence(tmp_path: Path) -> None:
    files = [f"manta.{number:04d}.obj" for number in range(20, 26)]
    sequence = only(found(tmp_path, *files, "manta.23.obj", "manta.023.obj", "manta.26.obj"))
    assert names(sequence) == [*files[:4], "manta.023.obj", "manta.23.obj", *files[4:], "manta.26.obj"]
    assert sequence.padding == 4
    assert sequence.missing == ()


@pytest.mark.parametrize(
    ("present", "step", "missing"),
    [
        ([1, 3, 5, 7], 2, []),
        ([1, 3, 5, 9], 2, [7]),
        ([0, 5, 10, 15, 30], 5, [20, 25]),
        ([1, 2, 3, 10], 1, [4, 5, 6, 7, 8, 9]),
        ([1, 5], 1, [2, 3, 4]),  # a single difference is not a regular step
        ([1, 5, 9], 4, []),
        ([2, 4, 6, 7, 9], 1, [3, 5, 8]),
        ([*range(1, 40, 2), 40], 2, []),  # every second frame, and the last frame
    ],
)
def test_step_and_gaps(tmp_path: Path, present: list[int], step: int, missing: list[int]) -> None:
    sequence = only(found(tmp_path, *(f"manta.{number:04d}.obj" for number in present)))
    assert (sequence.step, list(sequence.missing)) == (step, missing)


@given(
    st.integers(1, 7), st.integers(0, 2000), st.integers(8, 60), st.integers(0, 2), st.randoms(use_true_random=False)
)  # fmt: skip
def test_a_few_lost_frames_of_a_regular_sequence_are_missing(
    step: int, first: int, count: int, lost: int, chance: random.Random
) -> None:
    whole = [first + step * index for index in range(count)]
    gone = set(chance.sample(whole[1:-1], lost))
    grid = grid_of([Fraction(number) for number in whole if number not in gone])
    assert grid.step == step
    assert set(grid.numbers(Fraction(whole[0]), Fraction(whole[-1]))) == set(whole)


def test_grid_beyond_the_files(tmp_path: Path) -> None:
    sequence = only(found(tmp_path, *(f"kelp.{number}.obj" for number in range(4, 11, 2))))
    assert sequence.grid.numbers(Fraction(1), Fraction(15)) == (2, 4, 6, 8, 10, 12, 14)


def test_subframes_are_exact(tmp_path: Path) -> None:
    """The expected numbers are those of Python's decimal module."""
    texts = ["0001", "0001.25", "0001.5", "0001.75", "0002", "0002.25", "0002.75", "0003"]
    sequence = only(found(tmp_path, *(f"manta.{text}.obj" for text in texts)))
    assert numbers(sequence) == [Fraction(Decimal(text)) for text in texts]
    assert sequence.pattern.raw == b"manta.####.obj"
    assert sequence.step == Fraction(1, 4)
    assert sequence.missing == (Fraction(5, 2),)


def test_subframe_beside_its_frame(tmp_path: Path) -> None:
    sequence = only(found(tmp_path, "manta.0001.obj", "manta.0001.5.obj", "manta.0002.obj", "manta.0002.5.obj"))
    assert numbers(sequence) == [1, Fraction(3, 2), 2, Fraction(5, 2)]
    assert (sequence.step, sequence.missing) == (Fraction(1, 2), ())


@pytest.mark.parametrize("parts", [("0", "5"), ("000", "250", "500", "750"), ("00", "33", "67")])
def test_whole_frames_may_have_a_part_as_well(tmp_path: Path, parts: tuple[str, ...]) -> None:
    """A writer may format all numbers in the same way, so that whole frames have the fraction 0."""
    files = [f"manta.{whole:04}.{part}.obj" for whole in range(1, 7) for part in parts]
    sequence = only(found(tmp_path, *files))
    assert (names(sequence), sequence.missing) == (files, ())
    assert (sequence.pattern.raw, sequence.step) == (b"manta.####.obj", Fraction(1, len(parts)))
    (tmp_path / files[len(parts)]).rename(tmp_path / "manta.0002.obj")
    assert numbers(only(found(tmp_path))) == numbers(sequence)


def test_frames_of_few_shots_are_no_subframes(tmp_path: Path) -> None:
    """The `shot` files are two shots of two frames each. The numbers of the `cut` files don't divide a frame evenly,
    unlike those of sub-frames."""
    two = [f"shot.{shot}.{frame}.obj" for shot in (1, 2) for frame in (0, 5)]
    many = [f"cut.{shot:03}.{frame:04}.obj" for shot in range(1, 9) for frame in range(3)]
    assert len(found(tmp_path, *two, *many).sequences) == 2 + 8


def test_rounded_thirds_are_no_gaps(tmp_path: Path) -> None:
    texts = [f"{whole:04d}{part}" for whole in (1, 2, 3) for part in ("", ".33", ".67")]
    sequence = only(found(tmp_path, *(f"manta.{text}.obj" for text in texts)))
    assert len(sequence.files) == 9
    assert (sequence.step, sequence.missing) == (Fraction(1, 3), ())


def test_one_subframe_among_whole_frames_is_no_step(tmp_path: Path) -> None:
    sequence = only(found(tmp_path, *(f"manta.{number:04d}.obj" for number in range(1, 13)), "manta.0006.5.obj"))
    assert Fraction(13, 2) in numbers(sequence)
    assert (sequence.step, sequence.missing) == (1, ())


@pytest.mark.parametrize("width", [1, 4])
def test_frames_of_a_shot_beside_its_still_are_no_subframes(tmp_path: Path, width: int) -> None:
    frames = [f"shot.010.{number:0{width}d}.obj" for number in range(1, 13)]
    discovery = found(tmp_path, "shot.010.obj", *frames)
    assert names(only(discovery)) == frames
    assert [path.name for path in discovery.stills] == ["shot.010.obj"]


def test_numbers_too_far_apart_are_no_frames(tmp_path: Path) -> None:
    scattered = [f"scan_{number}.obj" for number in (48213948, 10293847, 77120031)]
    far = 3 + MOST_MISSING + 1
    discovery = found(tmp_path, *scattered, "manta.1.obj", "manta.2.obj", "manta.3.obj", f"manta.{far}.obj")
    assert names(only(discovery)) == ["manta.1.obj", "manta.2.obj", "manta.3.obj"]
    assert sorted(path.name for path in discovery.stills) == sorted([*scattered, f"manta.{far}.obj"])


def test_many_long_gaps_do_not_fill_the_memory(tmp_path: Path) -> None:
    at = 0
    files = [f"manta.{(at := at + 50_000 + index)}.obj" for index in range(40)]
    assert [path.name for path in found(tmp_path, *files).stills] == files


@given(st.lists(st.integers(0, 99_999), min_size=1, max_size=30, unique=True), st.integers(2, 6))
def test_padding_is_what_the_format_function_wrote(values: list[int], width: int) -> None:
    """The padded numbers are written by Python's %0*d."""
    texts = [b"%0*d" % (width, value) for value in values]
    padding = padding_of(texts)
    assert [b"%0*d" % (padding, value) for value in values] == texts


@given(st.integers(0, 10**9), st.text("0123456789", max_size=6))
def test_order_of_numerals_is_that_of_their_values(whole: int, part: str) -> None:
    one, other = Numeral(b"%d" % whole, part.encode()), Numeral(b"%d" % whole, b"5")
    assert (one.order < other.order) == (one.value < other.value)
    assert one.value == Fraction(Decimal(f"{whole}.{part}"))


def test_names_of_any_bytes(tmp_path: Path) -> None:
    stem = b"m\xff\x1b[31m\xc2\x85\nta.'\"$(x)."
    for number in (1, 2):
        Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + stem + b"%04d.obj" % number)).write_bytes(b"")
    sequence = only(discover(tmp_path))
    assert sequence.stem.raw == stem
    assert sequence.pattern.raw == stem + b"####.obj"
    assert sequence.files[0].name.raw == stem + b"0001.obj"
    assert sequence.pattern.display.isprintable()


def test_digits_of_other_scripts_are_no_numbers(tmp_path: Path) -> None:
    discovery = found(tmp_path, "manta.١.obj", "manta.٢.obj")
    assert len(discovery.stills) == 2


def test_what_is_no_regular_file_is_named_and_never_opened(tmp_path: Path) -> None:
    """One of the files is a pipe without a writer. If the pipe were opened, the test would never end."""
    root, outside = tmp_path / "root", tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.obj").write_bytes(b"v 0 0 0\n")
    found(root, "manta.0001.obj", "manta.0002.obj", "store/real.obj")
    os.mkfifo(root / "manta.0003.obj")
    (root / "manta.0004.obj").mkdir()
    (root / "manta.0004.obj" / "inner.0001.obj").write_bytes(b"")
    (root / "manta.0005.obj").symlink_to(outside / "secret.obj")
    (root / "manta.0006.obj").symlink_to("nowhere.obj")
    (root / "manta.0007.obj").symlink_to("manta.0007.obj")
    (root / "manta.0008.obj").symlink_to("store/real.obj")
    (root / "manta.0009.obj").symlink_to(outside)
    (root / "elsewhere").symlink_to(outside)
    (root / "circle").symlink_to("circle")
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(os.path.relpath(root / "manta.0010.obj"))
        discovery = discover(root)
    assert names(only(discovery)) == ["manta.0001.obj", "manta.0002.obj", "manta.0008.obj"]
    assert only(discovery).files[2].size == 8
    reasons = {path.name: reason for path, reason in discovery.unusual}
    assert set(reasons) == {f"manta.{number:04d}.obj" for number in (3, 4, 5, 6, 7, 9, 10)} | {"elsewhere"}
    broken = "target can't be opened"
    words = {3: "pipe", 4: "a folder", 5: "outside", 6: broken, 7: broken, 9: "outside", 10: "socket"}
    for number, word in words.items():
        assert word in reasons[f"manta.{number:04d}.obj"]
    assert "link to a folder" in reasons["elsewhere"]
    assert discovery.stills == (discovery.root / "store/real.obj",)


def test_links_to_folders_are_not_followed_in_circles(tmp_path: Path) -> None:
    found(tmp_path, "a/manta.1.obj", "a/manta.2.obj")
    (tmp_path / "a" / "up").symlink_to(tmp_path)
    assert len(discover(tmp_path).sequences) == 1


def test_a_folder_that_cannot_be_read_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A replacement for `os.scandir` refuses access to the folder, because the tests may run as root, who can read
    every folder."""
    found(tmp_path, "shut/manta.1.obj", "shut/manta.2.obj", "open/kelp.1.obj", "open/kelp.2.obj")
    scandir = os.scandir

    def refuse(path: bytes) -> object:
        if os.fsencode(path).endswith(b"/shut"):
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refuse)
    discovery = discover(tmp_path)
    assert only(discovery).relative.raw == b"open"
    assert discovery.unusual == ((discovery.root / "shut", "a folder that can't be read (Permission denied)"),)


@pytest.mark.parametrize(
    ("name", "advice"),
    [
        ("none", "; check the spelling of the path"),
        ("file", "; give the folder that contains the frames"),
        ("loop", ""),
        ("bad\x1b[2J", "; check the spelling of the path"),
        ("nul\0", ""),
    ],
)
def test_a_root_that_is_no_folder(tmp_path: Path, name: str, advice: str) -> None:
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(MeshqcError, match="not a readable folder") as caught:
        discover(tmp_path / name)
    assert str(caught.value).isprintable()
    assert str(caught.value).endswith(f"){advice}")


def test_an_empty_folder(tmp_path: Path) -> None:
    assert discover(tmp_path) == Discovery(tmp_path.resolve(), (), (), ())
