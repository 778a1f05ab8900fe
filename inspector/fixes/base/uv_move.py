"""Apply the same affine map to all UVs of all frames."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.precision import MOST_DECIMALS
from inspector.fixes.base.preview import point_text
from inspector.formats.frame import Frame
from inspector.formats.wavefront.writer import decimals_of
from inspector.lettering.texture_fit import NoTexture, TextureFit, fit_texture
from inspector.sequence.discovery.settings import frame_text

_SHOWN = 2


@dataclass(frozen=True, eq=False)
class UvMove:
    """An affine map: (u, v) becomes `matrix` times (u, v), plus `shift`.

    Attributes:
        matrix: The linear part, (2, 2).
        shift: The translation, (2,), in widths and heights of the texture.
    """

    matrix: Floats
    shift: Floats

    def __call__(self, uvs: Floats) -> Floats:
        """Return the mapped UVs, (m, 2 or 3). A third column is unchanged."""
        moved = uvs.copy()
        moved[:, :2] = uvs[:, :2] @ self.matrix.T + self.shift
        return moved

    @property
    def more_decimals(self) -> int:
        """The number of decimal places that mapped UVs need in addition to those of the source, so that different UVs
        stay different."""
        least = float(np.linalg.svd(self.matrix, compute_uv=False).min())
        return max(0, math.ceil(-math.log10(least) - 1e-9))


def move_step(context: CheckContext, fix: str, parameters: Parameters, move: UvMove, summary: str) -> Step[UvMove]:
    """Make the step of a fix that applies one UvMove to all UVs.

    The preview shows the first UVs of the reference frame.

    Args:
        context: The sequence.
        fix: Id of the fix.
        parameters: Values that the user gave, and constants that the plan found.
        move: The UvMove.
        summary: Effect of the step, in one line.
    """
    base = context.series.reference_facts
    before = context.reference_frame.uvs[:_SHOWN]
    label = f"frame {frame_text(base.number)}, UV"
    preview = tuple(
        Change(f"{label} {number}", point_text(old[:2]), point_text(new[:2]))
        for number, (old, new) in enumerate(zip(before, move(before), strict=True), 1)
    )
    return Step(fix, parameters, all_numbers(context), summary, preview, work=move)


def apply_move(frame: Frame, step: Step[UvMove], _: Fraction) -> Frame:
    """Apply a UvMove to the UVs of a frame. Fixes that apply a UvMove use this function as their `edit_frame`.

    Args:
        frame: The frame.
        step: The step. Its `work` is the UvMove.
    """
    move = step.work
    assert isinstance(move, UvMove)
    if not len(frame.uvs):
        return frame
    decimals = min(MOST_DECIMALS, decimals_of(frame, b"vt") + move.more_decimals)
    return frame.replace(uvs=move(frame.uvs), decimals={b"vt": decimals})


def fit_of(context: CheckContext) -> TextureFit:
    """Measure how a texture fits the surface, on all frames.

    Raises:
        Refusal: No frame can be read, there are no UVs, or the UVs have zero area.
    """
    if context.series.reference_index is None:
        raise Refusal("no frame can be read")
    if context.series.reference_facts.faces_without_uvs == context.series.reference_facts.faces:
        raise Refusal("the reference frame has no UVs")
    try:
        return fit_texture(context.series)
    except NoTexture:
        raise Refusal("the UVs have zero area, so no texture can be fitted to the surface") from None


def gathered(context: CheckContext, measure: Callable[[Frame], Floats]) -> list[Floats]:
    """Measure one frame for each distinct combination of UVs and UV indices.

    Args:
        context: The sequence.
        measure: Returns the measurement of a frame.

    Returns:
        The measurements; empty if no frame has UVs.
    """
    first: dict[tuple[bytes, bytes], int] = {}
    for index, facts in enumerate(context.series.facts):
        if facts.filled and facts.uvs:
            first.setdefault((facts.uv_values, facts.uv_indices), index)
    return [measure(context.frame(index)) for index in first.values()]
