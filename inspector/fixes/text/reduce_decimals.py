"""Write positions with only as many decimal places as the size of the object requires."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.precision import needed_decimals
from inspector.formats.frame import Frame
from inspector.formats.wavefront.writer import decimals_of, write_frame
from inspector.names import counted
from inspector.sequence.discovery.frame_ranges import numbers_text


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[int]:
    """Find the frames with more decimal places than the size of the reference frame requires.

    Returns:
        A step whose `work` is the number of decimal places.

    Raises:
        Refusal: There is no such frame, or the size of the reference frame is zero.
    """
    series = context.series
    if not series.reference_size > 0:
        raise Refusal(
            "the size of the reference frame is zero, so the number of decimal places can't be computed from it"
        )
    needed = needed_decimals(series)
    longer = [index for index, one in enumerate(series.facts) if one.filled and one.decimals > needed]
    if not longer:
        raise Refusal(
            f"no frame has more decimal places than the {needed} that the object's size in the reference frame requires"
        )
    first = context.frame(longer[0])
    before, after = len(first.data), len(write_frame(_shortened(first, needed)))
    whole = sum(series.facts[index].file.size for index in longer)
    saved = round(whole * (1 - after / before))
    numbers = context.numbers(longer)
    return Step(
        FIX.id,
        {"decimals": needed, "saved": saved},
        numbers,
        f"write positions of {numbers_text(numbers)} with {counted(needed, 'decimal place')}, which saves about "
        f"{saved:,} of {whole:,} bytes",
        (Change("bytes" if len(longer) == 1 else "bytes in the first of these files", f"{before:,}", f"{after:,}"),),
        work=needed,
    )


def _shortened(frame: Frame, decimals: int) -> Frame:
    return frame.replace(positions=frame.positions, decimals={b"v": decimals})


def edit_frame(frame: Frame, step: Step[int], _: Fraction) -> Frame:
    """Round the positions of a frame. Decimal places that were added by an earlier fix are kept."""
    own = frame.source_decimals.get(b"v", 0)
    return _shortened(frame, min(decimals_of(frame, b"v"), step.work + max(0, decimals_of(frame, b"v") - own)))


FIX = Fix(
    id="reduce-decimals",
    title="Reduce the decimal places",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Rounds positions to as many decimal places as the object's size in the reference frame requires. To make the "
    "files even smaller, also apply `drop-normals`.",
    cost="Digits below a millionth of the reference frame's diagonal are lost.",
    touches=frozenset({b"v"}),
    claims=frozenset({Claim.DECIMALS}),
    plan=plan,
    whole=True,
    edit_frame=edit_frame,
)
