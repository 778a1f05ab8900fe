"""Drop files that have the same frame number and content as another file."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.output_frames import OutputFrames
from inspector.fixes.base.same_mesh import same_mesh
from inspector.formats.frame import Frame
from inspector.safe_open import read_place
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[frozenset[int]]:
    """Choose the files to drop: of files with the same frame number and content, all but the first.

    Returns:
        A step whose `work` contains the indices, in `series.facts`, of the files to drop.

    Raises:
        Refusal: No frame number has more than one file, or files with the same number differ or can't be read.
    """
    by_number: defaultdict[Fraction, list[int]] = defaultdict(list)
    for index, facts in enumerate(context.series.facts):
        if frames is None or facts.number in frames:
            by_number[facts.number].append(index)
    repeats = {number: indices for number, indices in by_number.items() if len(indices) > 1}
    if not repeats:
        raise Refusal("no two files have the same frame number")
    for number, indices in repeats.items():
        for other in indices[1:]:
            if not _equal(context, indices[0], other):
                names = f"{context.file_name(indices[0])} and {context.file_name(other)}"
                raise Refusal(f"frame {frame_text(number)}: {names} differ; keep only the correct file")
    dropped = [index for indices in repeats.values() for index in indices[1:]]
    return Step(
        FIX.id,
        {"dropped": [context.file_name(index).text for index in dropped]},
        tuple(repeats),
        f"drop {count_of(len(dropped), 'file')} of {numbers_text(repeats)}, because another file of the same frame has "
        "the same content",
        tuple(Change("file", context.file_name(index).display, "") for index in dropped),
        work=frozenset(dropped),
    )


def _equal(context: CheckContext, first: int, other: int) -> bool:
    """Return whether two files have the same bytes or at least the same content.

    Raises:
        Refusal: A file can't be read.
    """
    if _bytes(context, first) == _bytes(context, other):
        return True
    if not (context.series.facts[first].readable and context.series.facts[other].readable):
        return False
    a, b = context.frame(first), context.frame(other)
    return same_mesh(a, b) and _materials(a) == _materials(b)


def _bytes(context: CheckContext, index: int) -> bytes:
    try:
        return read_place(context.series.facts[index].file.place)
    except OSError as error:
        raise Refusal(f"{context.file_name(index)}: {error.strerror}") from error


def _materials(frame: Frame) -> tuple[object, ...]:
    """Return three values: the names of a frame's libraries; the materials inside the frame's file; and a digest of the
    textures inside the frame's file."""
    return [line.name for line in frame.libraries], frame.library, frame.image_digest


def edit_output(outputs: OutputFrames, step: Step[frozenset[int]], _: CheckContext) -> OutputFrames:
    dropped = step.work
    return tuple(output for output in outputs if output.made is not None or output.sources[0] not in dropped)


FIX = Fix(
    id="drop-repeated-frames",
    title="Drop repeated files",
    kind=FixKind.LOSSLESS,
    does="If files with the same frame number have the same content, keeps only the file whose name fits the sequence.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.FILES}),
    plan=plan,
    edit_output=edit_output,
)
