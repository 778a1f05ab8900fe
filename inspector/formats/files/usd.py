"""OpenUSD, .usd, .usda, .usdc and .usdz: a whole animation in one file.

Source: the first bytes as OpenUSD's own formats have them (usda: "#usda"; crate: "PXR-USDC"; a package is a ZIP file).
"""

from __future__ import annotations

from pathlib import Path

from inspector.formats.format import Animation, Format, Trait

_HEADS = (b"#usda ", b"PXR-USDC", b"PK\x03\x04")


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith(_HEADS)


def _open(path: Path) -> Animation:
    from inspector.formats.usd.animation import StageAnimation

    return StageAnimation(path)


FORMATS = (
    Format(
        "usd",
        "OpenUSD",
        (b".usd", b".usda", b".usdc", b".usdz"),
        frozenset({Trait.UVS, Trait.NORMALS, Trait.POLYGONS, Trait.SHARED, Trait.OBJECTS, Trait.MATERIALS}),
        _recognises,
        read=None,
        open=_open,
        leaves="objects become one mesh; of a material its colour, opacity and one texture stay; numbers are single "
        "precision",
    ),
)
