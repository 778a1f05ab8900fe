"""Folders in which frame 7 is an extreme case of one kind of damage.

To write a folder for each kind of damage, at full size, run `python -m tests.helpers.hostile.worst OUT`. Then run
`meshqc check OUT/KIND` by hand.
"""

from __future__ import annotations

import argparse
import os
import socket
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.helpers.sequences import shot, write

FRAME = "manta.0007.obj"
GOOD = shot(numbers=[7])[FRAME]


@dataclass(frozen=True)
class Worst:
    """A kind of damage.

    Attributes:
        make: Function that damages the good shot in a folder. The second argument is the size of the damage.
        small: The size for a test.
        full: The size for use by hand.
        heard: IDs of the checks that must report frame 7. "left out" means that the file must be listed as not part of
            the sequence. Empty if the damage does no harm.
    """

    make: Callable[[Path, int], None]
    small: int
    full: int
    heard: frozenset[str] = frozenset()


def _frame(data: Callable[[int], bytes]) -> Callable[[Path, int], None]:
    def make(folder: Path, size: int) -> None:
        (folder / FRAME).write_bytes(data(size))

    return make


def _instead(place: Callable[[Path], object]) -> Callable[[Path, int], None]:
    """Return a function that replaces frame 7 with something other than a regular file."""

    def make(folder: Path, _: int) -> None:
        (folder / FRAME).unlink()
        place(folder / FRAME)

    return make


def _corners(size: int) -> bytes:
    return GOOD + b"f " + b" ".join(b"%d" % (at % 20 + 1) for at in range(size)) + b"\n"


def _long_names(size: int) -> bytes:
    names = b"g " + b"g" * size + b"\no " + b"o" * size
    return GOOD.replace(b"usemtl skin", b"usemtl " + b"n" * size) + names + b"\nf 1 2 3\n"


def _materials(folder: Path, size: int) -> None:
    many = b"".join(b"newmtl m%d\nKd 1 1 1\nmap_Kd skin.png\n" % at for at in range(size))
    (folder / "manta.mtl").write_bytes(many + (folder / "manta.mtl").read_bytes())


def _self_library(folder: Path, _: int) -> None:
    (folder / "manta.mtl").write_bytes(b"mtllib manta.mtl\nnewmtl skin\nmap_Kd manta.mtl\n")


def _image(folder: Path, side: int) -> None:
    """Write a PNG with `side` x `side` pixels (PNG specification, ISO/IEC 15948). The file is about a thousandth of the
    size of the decoded image."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    packer = zlib.compressobj(9)
    rows = b"".join(packer.compress(bytes(side * 3 + 1)) for _ in range(side)) + packer.flush()
    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    parts = (b"\x89PNG\r\n\x1a\n", chunk(b"IHDR", head), chunk(b"IDAT", rows), chunk(b"IEND", b""))
    (folder / "skin.png").write_bytes(b"".join(parts))


def _sparse(folder: Path, size: int) -> None:
    with (folder / FRAME).open("r+b") as file:
        file.truncate(size)


def _crowd(folder: Path, size: int) -> None:
    for at in range(size):
        (folder / f"note {at}.txt").touch()


def _socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as one:  # its path stays, and has to be short
        there = Path.cwd()
        os.chdir(path.parent)
        one.bind(path.name)
        os.chdir(there)


def _secret(path: Path) -> None:
    path.touch()
    path.chmod(0)


WORST = {
    "long comment": Worst(_frame(lambda n: GOOD + b"# " + b"x" * n + b"\n"), 4_000_000, 500_000_000),
    "long line": Worst(
        _frame(lambda n: GOOD + b"v " + b"1 " * (n // 2) + b"\n"), 25_000_000, 500_000_000, frozenset({"unreadable"})
    ),
    "corners": Worst(_frame(_corners), 10_000, 1_000_000, frozenset({"n-gons", "repeated-corners"})),
    "index": Worst(
        _frame(lambda n: GOOD + b"f 1 2 %d\nf -%d 1 2\nf %d 1 2\n" % (n, n, n**3)),
        10**9,
        10**9,
        frozenset({"index-range"}),
    ),
    "names": Worst(_frame(_long_names), 100_000, 1_000_000, frozenset({"material-undefined"})),
    "objects": Worst(
        _frame(lambda n: GOOD + b"".join(b"o o%d\ng g%d\nf 1 2 3\n" % (at, at) for at in range(n))),
        300,
        10_000,
        frozenset({"duplicate-faces"}),
    ),
    "switches": Worst(
        _frame(lambda n: GOOD + b"".join(b"usemtl m%d\nf 1 2 3\n" % at for at in range(n))),
        1000,
        100_000,
        frozenset({"material-undefined"}),
    ),
    "materials": Worst(_materials, 1000, 100_000, frozenset({"unused-materials"})),
    "library that names itself": Worst(_self_library, 0, 0, frozenset({"library-text"})),
    "image": Worst(_image, 14_000, 30_000, frozenset({"texture-damaged"})),
    "NUL bytes": Worst(_frame(bytes), 100_000, 1_000_000, frozenset({"unreadable"})),
    "sparse": Worst(_sparse, 1 << 40, 1 << 40, frozenset({"unreadable"})),
    "crowd": Worst(_crowd, 2000, 200_000),
    "FIFO": Worst(_instead(os.mkfifo), 0, 0, frozenset({"left out"})),
    "socket": Worst(_instead(_socket), 0, 0, frozenset({"left out"})),
    "folder": Worst(_instead(Path.mkdir), 0, 0, frozenset({"left out"})),
    "dangling link": Worst(_instead(lambda path: path.symlink_to("nowhere.obj")), 0, 0, frozenset({"left out"})),
    "looping link": Worst(_instead(lambda path: path.symlink_to(path.name)), 0, 0, frozenset({"left out"})),
    "link outside": Worst(_instead(lambda path: path.symlink_to("/etc/passwd")), 0, 0, frozenset({"left out"})),
    "link to a device": Worst(_instead(lambda path: path.symlink_to("/dev/zero")), 0, 0, frozenset({"left out"})),
    "device": Worst(
        _instead(lambda path: os.mknod(path, 0o666 | 0o020000, os.makedev(1, 5))), 0, 0, frozenset({"left out"})
    ),
    "unreadable": Worst(_instead(_secret), 0, 0, frozenset({"unreadable"})),
}


def spoilt(folder: Path, kind: str, full: bool = False) -> Path:
    """Write a shot of ten frames with this kind of damage."""
    one = WORST[kind]
    write(folder, shot(numbers=range(1, 11)))
    one.make(folder, one.full if full else one.small)
    return folder


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    out = parser.parse_args().out
    for kind in WORST:
        print(spoilt(out / kind, kind, full=True), flush=True)


if __name__ == "__main__":
    main()
