"""Alembic (.abc): a whole animation in one file, in the Ogawa container.

A file is recognised by its first bytes: "Ogawa", or the signature of HDF5, the older container, which can't be read
(source: the reference library).
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from inspector.formats.format import Format, SceneFormat, Trait

if TYPE_CHECKING:
    from inspector.formats.animation import Animation, AnimationWriter, Brief, Opening

_HEADS = (b"Ogawa", b"\x89HDF\r\n\x1a\n")


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith(_HEADS)


def _open(path: Path, opening: Opening) -> Animation:
    from inspector.formats.alembic.animation import ArchiveAnimation

    return ArchiveAnimation(path, opening.rate)


def _write(path: Path, brief: Brief) -> AnimationWriter:
    from inspector.formats.alembic.mesh_out import ArchiveAnimationWriter

    return ArchiveAnimationWriter(path, brief)


def _need() -> None:
    """Do nothing, because the reader and the writer are part of this package."""


FORMATS = (
    Format(
        "abc",
        "Alembic",
        (b".abc",),
        frozenset(
            {
                *(
                    Trait.UVS,
                    Trait.NORMALS,
                    Trait.CORNER_NORMALS,
                    Trait.POLYGONS,
                    Trait.SHARED,
                    Trait.OBJECTS,
                    Trait.COLOURS,
                ),
                *(Trait.MATERIALS, Trait.LOOSE, Trait.CLOUDS),
            }
        ),
        _recognises,
        read=None,
        scene=SceneFormat(_open, _write, ".abc", need=_need),
        leaves="objects are joined into one mesh; a material keeps its name and faces, but not its colour or textures; "
        "numbers are stored in single precision",
        merges=frozenset({Trait.OBJECTS}),
    ),
)
