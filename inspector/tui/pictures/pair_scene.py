"""Two pictures side by side, from the same viewpoint."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from rich.segment import Segment
from textual.strip import Strip

from inspector.picture.camera import Camera
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.pixels import joined
from inspector.tui.pictures.scene import Scene
from inspector.tui.pictures.uv_scene import UvScene
from inspector.tui.styles import FAINT, PLAIN


def half(columns: int) -> int:
    """Return the width of each of two pictures that share `columns` columns, with a divider of one column between
    them."""
    return max(1, (columns - 1) // 2)


@dataclass(frozen=True, eq=False)
class PairScene:
    """A request for two pictures side by side.

    Attributes:
        left: The picture on the left, `half(columns)` wide.
        right: The picture on the right. If neither picture is a UV map, this picture is drawn with the left picture's
            camera.
        columns: Width of both pictures together, in cells.
        wall: The character between the pictures.
        moving: Whether another request is likely to follow immediately.
    """

    left: Scene | UvScene
    right: Scene | UvScene
    columns: int
    wall: str
    moving: bool = False

    def seen_from(self, camera: Camera) -> PairScene:
        """Return the pair as a camera sees it. UV maps are returned as they are.

        Args:
            camera: The camera. If `left.whole` is set and part of a frame is outside the picture, a camera with the
                same direction is fitted to both frames instead.

        Raises:
            MeshqcError: A frame can't be read, or no vertex has a position.
        """
        if not (isinstance(self.left, Scene) and isinstance(self.right, Scene)):
            return self
        return replace(self, left=replace(self.left, camera=camera).with_camera(self.right))

    def paint(self, coarseness: int) -> Painted:
        """Draw both pictures.

        Raises:
            MeshqcError: A frame can't be read, or no vertex has a position.
        """
        left, right, note = self.left, self.right, ""
        if isinstance(left, Scene) and isinstance(right, Scene):
            left = left.with_camera(right)
            right = replace(right, camera=left.camera, whole=False)
            if (placement := right.placement()) is not None:
                left = replace(left, label=placement.words_before)
                right = replace(right, label=placement.words_after)
                note = f"each picture has its own {placement.what}"
        painted = [one.paint(coarseness) for one in (left, right)]
        wall = Strip([Segment(self.wall, FAINT)], 1)
        rest = Strip([Segment(" " * (self.columns - 1 - 2 * half(self.columns)), PLAIN)])
        pairs = zip(*(part.strips for part in painted), strict=True)
        lines = [joined([one, wall, other, rest]) for one, other in pairs]
        words = " | ".join(dict.fromkeys(part.words for part in painted if part.words))
        order = replace(self, left=left, right=right)
        picture = np.concatenate([part.picture for part in painted], axis=1)
        return Painted(order, picture, lines, "; ".join(filter(None, [note, words])))
