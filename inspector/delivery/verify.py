"""Verify that files were written correctly, and that untouched blocks and the sources are unchanged."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction

from inspector.delivery.apply import Sources
from inspector.delivery.choices import all_choices
from inspector.delivery.journal import WrittenFile, sha256
from inspector.delivery.plan import Plan
from inspector.delivery.planning import make_plan
from inspector.delivery.staging_folder import Staging
from inspector.errors import Cancelled, MeshqcError
from inspector.formats.wavefront.blocks import split_blocks
from inspector.formats.wavefront.logical_text import block_spans, has_capitals, source_text
from inspector.inspection.inspection import FolderInspection
from inspector.names import Name
from inspector.sequence.run.scan import Cancel


def read_back(
    plan: Plan,
    files: Sequence[WrittenFile],
    staging: Staging,
    sources: Sources,
    progress: Callable[[int, int], None],
    cancelled: Cancel,
) -> int:
    """Compare every file with its record, and the untouched blocks of every corrected file with the source.

    Args:
        plan: The plan that was carried out.
        files: The records of the files.
        staging: The staging folder.
        sources: The reader of the source files.
        progress: Receives the number of files done and the total.
        cancelled: Returns whether to stop.

    Returns:
        The number of untouched blocks that were compared. If no fix changed a file, its blocks are not compared.

    Raises:
        MeshqcError: A file differs from its record, or an untouched block differs from the source.
        OSError: A file can't be read.
        Cancelled: The work was stopped.
    """
    blocks = 0
    for number, written in enumerate(files, 1):
        if cancelled():
            raise Cancelled("stopped, but finished files are kept; run the same command to resume")
        data = staging.read(written.path)
        if sha256(data) != written.sha256:
            raise MeshqcError(
                f"{Name.from_path(written.path)}: the content on the disk differs from what was written; nothing was "
                "delivered"
            )
        if written.fixes:
            path = plan.inspection.root / written.sources[0][0]
            source = sources.as_text(sources.read(path), path)
            blocks += compare_untouched(source, data, (word.encode() for word in written.touches), written.path)
        progress(number, len(files))
    return blocks


def compare_untouched(before: bytes, after: bytes, touches: Iterable[bytes], path: str) -> int:
    """Compare all blocks of two OBJ files, except blocks that may have changed.

    Args:
        before: The source.
        after: The frame as it was written.
        touches: Keywords of the blocks that may have changed.
        path: Path of the file, for the message.

    Returns:
        The number of blocks of the source that were compared.

    Raises:
        MeshqcError: A block differs.
    """
    allowed = frozenset(touches)
    ours, theirs = _untouched(before, allowed), _untouched(after, allowed)
    if b"".join(ours) != b"".join(theirs):
        raise MeshqcError(
            f"{Name.from_path(path)}: lines that should be unchanged differ from the source; nothing was delivered"
        )
    return len(ours)


def _untouched(data: bytes, touches: frozenset[bytes]) -> list[bytes]:
    source = source_text(data)
    blocks, _ = split_blocks(source.text)
    if has_capitals(blocks):
        source = source_text(data, capitals=True)
        blocks, _ = split_blocks(source.text)
    spans = zip(blocks, block_spans(source.data, blocks), strict=True)
    return [source.data[start:stop] for block, (start, stop) in spans if block.keyword not in touches and start < stop]


def sources_unchanged(sources: Sources, cancelled: Cancel) -> int:
    """Read every source file again, and compare its digest with that of the first reading.

    Args:
        sources: The reader of the source files, with the digests of all files that were read.
        cancelled: Returns whether to stop.

    Returns:
        The number of files.

    Raises:
        MeshqcError: A file has changed or can't be read.
        Cancelled: The work was stopped.
    """
    for path in list(sources.digests):
        if cancelled():
            raise Cancelled("stopped, but finished files are kept; run the same command to resume")
        sources.read(path)
    return len(sources.digests)


def second_steps(plan: Plan, after: FolderInspection) -> int:
    """Count the steps that the plan's fixes would make again on the frames that they corrected.

    Args:
        plan: The plan that was carried out.
        after: The inspection of the corrected folder.
    """
    used: dict[str, set[Fraction]] = {}
    for step in plan.steps:
        used.setdefault(step.fix, set()).update(step.frames)
    again = make_plan(after, [choice for choice in all_choices(after) if choice.fix in used])
    return sum(not step.frames or not used[step.fix].isdisjoint(step.frames) for step in again.steps)
