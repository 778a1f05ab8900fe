"""OpenUSD (.usd, .usda, .usdc and .usdz): a whole animation in one file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from inspector.formats.format import Format, SceneFormat, Trait

if TYPE_CHECKING:
    from inspector.formats.animation import Animation, AnimationWriter, Brief, Opening

_HEADS = (b"#usda ", b"PXR-USDC", b"PK\x03\x04")


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith(_HEADS)


def _open(path: Path, opening: Opening) -> Animation:
    from inspector.formats.usd.animation import StageAnimation

    return StageAnimation(path, opening)


def _write(path: Path, brief: Brief) -> AnimationWriter:
    from inspector.formats.usd.write import StageWriter

    return StageWriter(path, brief)


def _need() -> None:
    from inspector.formats.usd.stage import need_library

    need_library()


FORMATS = (
    Format(
        "usd",
        "OpenUSD",
        (b".usd", b".usda", b".usdc", b".usdz"),
        frozenset(Trait)
        - {Trait.STATEMENTS, Trait.GROUPS, Trait.SMOOTHING, Trait.LIBRARIES, Trait.CURVES, Trait.DEPTHS},
        _recognises,
        read=None,
        scene=SceneFormat(_open, _write, ".usdc", need=_need),
        leaves="objects are joined into one mesh; numbers are stored in single precision",
        merges=frozenset({Trait.OBJECTS}),
    ),
)
