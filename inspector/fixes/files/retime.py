"""Convert the sequence to a different frame rate. New frames are blended from the frames of the source."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.faces import refuse_mixed_faces
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.output_frames import OutputFrame, OutputFrames, numbered_file, source_frames
from inspector.fixes.base.parameters import typed, word_of
from inspector.names import counted, safe
from inspector.rules.values import rate
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text

_MOST_NEW_FRAMES = 10
"""Maximum ratio of the new frame rate to the old. A larger ratio is probably a typing error, and could fill the
disk."""

LINEAR, SMOOTH = "linear", "smooth"

Shares = dict[int, float]
"""Weights of source frames, by index."""


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[OutputFrames]:
    """Plan the new frames.

    A new frame at exactly the time of a source frame is a copy of the source frame. All other new frames are blended.

    Returns:
        A step whose `work` is the list of the frames to write.

    Raises:
        Refusal: A parameter is missing or wrong; the rates are the same, or the new rate is too high; fewer than two
            frames would be left; or frames are missing, broken or repeated, or their faces differ.
    """
    source, target = _rate(context, parameters, "from"), _rate(context, parameters, "to")
    way = word_of(parameters, "way", (LINEAR, SMOOTH)) or LINEAR
    if source == target:
        raise Refusal("both rates are the same")
    if target > _MOST_NEW_FRAMES * source:
        raise Refusal(f"the new rate is more than {_MOST_NEW_FRAMES} times the old rate; choose a lower rate")
    _refuse_gaps(context)
    numbers = all_numbers(context)
    outputs = _slots(context, source / target, _SHARES[way])
    made = [output for output in outputs if output.made]
    return Step(
        FIX.id,
        {"from": str(source), "to": str(target), "way": way},
        tuple(sorted({*numbers, *(output.number for output in outputs)})),
        f"convert from {frame_text(source)} to {frame_text(target)} frames per second: "
        f"{counted(len(outputs), 'frame')} ({len(made)} blended, {way}) instead of {len(numbers)}",
        tuple(_change(context, output) for output in outputs[1:]),
        work=outputs,
    )


def _rate(context: CheckContext, parameters: Parameters, key: str) -> Fraction:
    stated = parameters.get(key, context.settings.rate if key == "from" else None)
    if stated is None:
        which = "rate of the export" if key == "from" else "new rate"
        raise Refusal(
            f"the {which} is unknown; give both rates in frames per second, as in "
            f"{typed(FIX.id, 'from=24,to=30000/1001')}"
        )
    try:
        return rate(str(stated))
    except ValueError:
        raise Refusal(f"{key}={safe(str(stated))} is not a frame rate such as 24, 23.976 or 24000/1001") from None


def _refuse_gaps(context: CheckContext) -> None:
    series = context.series
    if len(all_numbers(context)) < len(series.facts):
        raise Refusal("several files have the same frame number; remove the extra files first")
    if series.sequence.gaps:
        gaps = series.sequence.gaps
        raise Refusal(
            f"{numbers_text(gaps)} {'is' if len(gaps) == 1 else 'are'} missing; fill every gap first, in a separate "
            "delivery"
        )
    broken = [
        one.number
        for index, one in enumerate(series.facts)
        if not series.usable[index] or one.problem("bad-number") is not None
    ]
    if broken:
        raise Refusal(
            f"{numbers_text(broken)} {'is' if len(broken) == 1 else 'are'} broken; repair every broken frame first, in "
            "a separate delivery"
        )
    refuse_mixed_faces(context)


def _slots(context: CheckContext, pace: Fraction, shares: Callable[[int, float, int], Shares]) -> OutputFrames:
    """List the new frames, each with its source frames and their weights. A new frame begins every `pace` source
    frames.

    `shares` returns the weights for a time between two source frames. It receives the index of the earlier frame, the
    position between the two frames (0 to 1), and the index of the last frame of the sequence.

    Raises:
        Refusal: Fewer than two frames would be left.
    """
    sequence, facts = context.series.sequence, context.series.facts
    first, last = facts[0].number, len(facts) - 1
    outputs = []
    for order in range(int(last / pace) + 1):
        before, rest = divmod(order * pace, 1)
        number, name = first + order * pace * sequence.step, numbered_file(sequence, first + order * sequence.step)
        if not rest:
            outputs.append(OutputFrame(number, name, (int(before),)))
            continue
        found = shares(int(before), float(rest), last)
        sources, weights = zip(*sorted(found.items(), key=lambda one: -one[1]), strict=True)
        outputs.append(OutputFrame(number, name, sources, weights, "blend"))
    if len(outputs) < 2:
        raise Refusal(f"only {len(outputs)} of {counted(len(facts), 'frame')} would be left; choose a higher rate")
    return tuple(outputs)


def _linear(before: int, share: float, _: int) -> Shares:
    return {before: 1 - share, before + 1: share}


def _smooth(before: int, share: float, last: int) -> Shares:
    """Return the weights of a cubic spline, a curve that passes through all frames without kinks.

    Sources: Catmull and Rom 1974, "A class of local interpolating splines"; Keys 1981, "Cubic convolution interpolation
    for digital image processing" (a = -1/2). At each end, a frame is added on the parabola through the outermost three
    frames (Keys 1981). With only two frames, the spline is a straight line.
    """
    if last < 2:
        return _linear(before, share, last)
    s, s2, s3 = share, share**2, share**3
    weights = [(-s + 2 * s2 - s3) / 2, (2 - 5 * s2 + 3 * s3) / 2, (s + 4 * s2 - 3 * s3) / 2, (s3 - s2) / 2]
    found = dict(zip(range(before - 1, before + 3), weights, strict=True))
    for beyond, inward in ((-1, 1), (last + 1, -1)):
        outside = found.pop(beyond, 0.0)
        for steps, factor in ((1, 3.0), (2, -3.0), (3, 1.0)):
            if outside:
                at = beyond + inward * steps
                found[at] = found.get(at, 0.0) + factor * outside
    return found


_SHARES: dict[str, Callable[[int, float, int], Shares]] = {LINEAR: _linear, SMOOTH: _smooth}


def _change(context: CheckContext, output: OutputFrame) -> Change:
    facts = context.series.facts
    parts = [
        f"{weight:.0%} of frame {frame_text(facts[source].number)}"
        for source, weight in zip(output.sources, output.weights, strict=True)
    ]
    return Change(output.file.display, "", " and ".join(parts))


def edit_output(outputs: OutputFrames, step: Step[OutputFrames], context: CheckContext) -> OutputFrames:
    """Return the new frames, to be written instead of the frames in `outputs`.

    Raises:
        Refusal: Another fix has changed `outputs`. The change would be lost, because the new frames are made from the
            source.
    """
    if outputs != source_frames(context.series):
        raise Refusal("other fixes add or drop frames; apply them first, and retime in a separate delivery")
    return step.work


FIX = Fix(
    id="retime",
    title="Change the frame rate",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ESTIMATES, DataChange.DROPS}),
    does="Converts the sequence to a different frame rate, and numbers the frames consecutively from the number "
    "of the first frame. If a new frame falls between exported frames, its positions and normals are blended from the "
    "exported frames around it.",
    cost="The true motion between two frames is unknown. Blended frames are estimates, and are marked as such in the "
    "receipt. Exported frames that fall between new frames are lost.",
    touches=frozenset({b"v", b"vn", b"f", b"fo"}),
    claims=frozenset({Claim.FILES, Claim.NUMBERS}),
    plan=plan,
    parameters={
        "from": "frames per second of the export, such as 24, 23.976 or 24000/1001; default: the rate stated by --fps, "
        "the delivery rules or the receipt",
        "to": "frames per second of the result",
        "way": "linear (straight from frame to frame) or smooth (a curve through the frames); default: linear",
    },
    required=frozenset({"to"}),
    whole=True,
    edit_output=edit_output,
)
