"""Two folders for the terminal UI: one with evil names, the other with bad frames."""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

from tests.helpers.hostile.evil_shots import EVIL, evil_shot
from tests.helpers.hostile.worst import GOOD
from tests.helpers.sequences import shot, write

_HEAD = b"mtllib manta.mtl\nusemtl skin\n"
_MEGABYTE = 1_000_000


def evil_names(place: Path) -> Path:
    """Write a folder with an evil name and with a shot for each kind of evil name.

    In further shots, the names are as long as the system allows, or the files contain markup, evil comments, and names
    that are a megabyte long.
    """
    root = place / os.fsdecode(b"harbour \x1b[2J\xe2\x80\xae[red]\xff[-red]\n")
    for evil in EVIL.values():
        evil_shot(root, evil)
    stem = "m" * (255 - len(".0001.obj"))
    write(
        root / "long", {path.replace("manta.0", f"{stem}.0"): data for path, data in shot(numbers=range(1, 4)).items()}
    )
    evil = b" ".join(EVIL.values()).translate(bytes.maketrans(b"\r\n", b"  "))
    for number in range(1, 5):
        long = b"[red]%d[/nope]" % number + b"x" * _MEGABYTE + evil
        lines = shot(numbers=[number])[f"manta.{number:04}.obj"].replace(b"usemtl skin", b"usemtl " + long)
        said = b"# " + evil + b"\ng " + long + b"\no [/]" + evil + b"\ncall " + evil + b"\n" + evil + b" 1\n"
        write(root / "inside", {f"manta.{number:04}.obj": said + lines})
    (root / "inside/manta.mtl").write_bytes(b"newmtl " + evil + b"\nmap_Kd " + evil + b".png\n[/nope] [red]\n")
    return root


def _png(width: int, height: int, data: bytes = b"") -> bytes:
    """Return a PNG whose header claims this size, regardless of the data (PNG specification, ISO/IEC 15948)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(data)) + chunk(b"IEND", b"")


def _moved(numbers: bytes) -> bytes:
    lines = GOOD.split(b"\n")
    at = [place for place, line in enumerate(lines) if line.startswith(b"v ")][:8]
    return b"\n".join(b"v " + numbers if place in at else line for place, line in enumerate(lines))


def _all_at(numbers: bytes, statement: bytes = b"v") -> bytes:
    start = statement + b" "
    return b"\n".join(start + numbers if line.startswith(start) else line for line in GOOD.split(b"\n"))


def _wearing(material: bytes) -> bytes:
    return GOOD.replace(b"usemtl skin", b"usemtl " + material)


BAD: dict[str, bytes | Callable[[Path], object]] = {
    "cut in the middle": GOOD[: len(GOOD) // 2],
    "empty": b"",
    "a comment alone": b"# " + b"x" * 100_000,
    "no faces": _HEAD + b"v 0 0 0\nv 1 0 0\nv 1 1 0\n",
    "no vertex": _HEAD + b"f 1 2 3\nf -1 -2 -3\n",
    "a single point": b"v 1 2 3\n",
    "a face on a point": b"v 1 2 3\nvt 0 0\nf 1/1 1/1 1/1\n",
    "faces of one and two corners": GOOD + b"f 1\nf 1 2\n",
    "all vertices in one place": _all_at(b"1 1 1"),
    "all vertices on a line": _all_at(b"0 0 0") + b"\nv 5 0 0\nf 1 2 %d\n" % (GOOD.count(b"\nv ") + 1),
    "not a number": _moved(b"nan nan nan"),
    "nothing but not a number": _all_at(b"nan nan nan"),
    "without end": _moved(b"inf -inf inf"),
    "1e308": _moved(b"1e308 -1e308 1e308"),
    "all at 1e308": _all_at(b"1e308 1e308 1e308"),
    "1e400": _moved(b"1e400 1 1"),
    "1e-320": _all_at(b"1e-320 2e-320 3e-320"),
    "bent faces of bad corners": _moved(b"1e308 -1e308 nan") + b"\nf 1 9 2 10 3 11 4 12\nf 9 2 13 1 14 3 11\n",
    "bent faces of far corners": _moved(b"1e200 -1e308 1e150") + b"\nf 1 9 2 10 3 11 4 12\nf 9 2 13 1 14 3 11\n",
    "UVs of 1e308": _all_at(b"1e308 -1e308", b"vt"),
    "UVs of not a number": _all_at(b"nan inf", b"vt"),
    "normals of nothing": _all_at(b"0 0 0", b"vn"),
    "a face of very many corners": GOOD + b"f" + b" 1 5 2 9" * 500 + b"\n",
    "an index of a billion": GOOD + b"f 1 2 1000000000\nf 1 2 -1000000000\nf 1/1000000000 2/1 3/1\n",
    "an index beyond 64 bits": GOOD + b"f 1 2 1000000000000000000000000000\n",
    "many materials": GOOD + b"".join(b"usemtl m%d\nf 1 2 3\n" % at for at in range(300)),
    "NUL bytes": bytes(100_000),
    "a texture that is missing": _wearing(b"lost"),
    "a texture of 4 quintillion pixels": _wearing(b"huge"),
    "a texture that is cut": _wearing(b"cut"),
    "a texture that is no image": _wearing(b"itself"),
    "a FIFO": os.mkfifo,
    "a folder": Path.mkdir,
    "a dangling link": lambda path: path.symlink_to("nowhere.obj"),
    "a link outside": lambda path: path.symlink_to("/etc/passwd"),
}


FIRST_BAD = 4


def bad_contents(place: Path) -> Path:
    """Write a sequence of three good frames and one bad frame of each kind, and sequences of bad frames only."""
    library = b"".join(b"newmtl %s\nmap_Kd %s.png\n" % (one, one) for one in (b"lost", b"huge", b"cut"))
    files = shot(numbers=(1, 2, 3))
    files["manta.mtl"] += library + b"newmtl itself\nmap_Kd manta.mtl\nmtllib manta.mtl\n"
    files |= {"huge.png": _png(2**31 - 1, 2**31 - 1), "cut.png": files["skin.png"][:60]}
    root = write(place / "bad", files)
    for number, content in enumerate(BAD.values(), FIRST_BAD):
        path = root / f"manta.{number:04}.obj"
        if isinstance(content, bytes):
            path.write_bytes(content)
        else:
            content(path)
    for kind in ("empty", "a single point", "nothing but not a number", "NUL bytes", "no faces"):
        content = BAD[kind]
        assert isinstance(content, bytes)
        write(root / kind, {f"jelly.{number:04}.obj": content for number in (1, 2)})
    return root
