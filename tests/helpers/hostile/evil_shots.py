"""Shots with evil names."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.helpers.sequences import shot, write

EVIL = {
    "newline": b"a\nmeshqc: clean\r",
    "escape": b"\x1b[2J\x1b]0;evil\x07\x1b[31m\xc2\x9b5n",
    "right to left": "\u202eevil\u2066\u200f\u200b".encode(),
    "markup": b"<evil onload=evil>&evil;]]>--><!--[red]evil[-red]",
    "formula": b"=evil();=evil();+evil,@evil\t-evil",
    "invalid UTF-8": b"\xff\xfe\xc3\xed\xa0\x80evil\xf4\x90\x80\x80",
    "other planes": "\U000e0065\ue000\ufdd0\u2028evil".encode(),
}


def evil_shot(folder: Path, evil: bytes) -> Path:
    """Write a shot in which the names of the folder and the frames, and all names in the files, are evil.

    Frame 7 is broken, and frame 9 is a folder.
    """
    name = evil.replace(b"/", b"")
    root = folder / os.fsdecode(b"shot " + name)
    inside = evil.translate(bytes.maketrans(b"\r\n", b"  "))
    head = b"mtllib " + inside + b".mtl\no " + inside + b"\ng " + inside + b"\n"
    bad = inside + b"\nf 1 x" + inside + b" 2\n"
    for number in range(1, 9):
        lines = (
            shot(numbers=[number])[f"manta.{number:04}.obj"].replace(b"mtllib manta.mtl", b"").replace(b"skin", inside)
        )
        write(root, {f"{os.fsdecode(name)}.{number:04}.obj": head + lines + (bad if number == 7 else b"")})
    (root / os.fsdecode(name + b".mtl")).write_bytes(b"newmtl " + inside + b"\nmap_Kd " + inside + b".png\n")
    (root / os.fsdecode(name + b".0009.obj")).mkdir()
    return root


HOSTILE = b"ma\x1b]0;t\x07\x9b31m\xff[red]\xe2\x80\xaen\nta."


@pytest.fixture
def hostile(tmp_path: Path, demo: Path) -> Path:
    """Write two frames with control sequences in a number and in the names of the frames, the library and the
    material."""
    for number in (1, 3):
        text = (demo / f"manta/manta.{number:04}.obj").read_bytes()
        text = text.replace(b"mtllib manta.mtl", b"mtllib \x1b[2J\xe2\x80\xaegone\x9b.mtl")
        text = text.replace(b"usemtl manta_skin", b"usemtl sk\x1b[31min")
        text = text.replace(b"\nv ", b"\nv \x1b]0;owned\x07 ", 1)
        (tmp_path / os.fsdecode(HOSTILE + b"%04d.obj" % number)).write_bytes(text)
    return tmp_path
