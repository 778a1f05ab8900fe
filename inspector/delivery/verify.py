"""Proof: what was written is on the disk, untouched blocks and sources are as before, and findings are gone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspector.checks.base.finding import Finding
from inspector.delivery.choices import all_choices, serious
from inspector.delivery.journal import Written, sha256
from inspector.delivery.plan import Plan, SequencePlan, make_plan
from inspector.delivery.staging import Staging
from inspector.delivery.write import Sources, frame_path
from inspector.errors import Cancelled, MeshqcError
from inspector.formats.wavefront.blocks import split_blocks
from inspector.formats.wavefront.text import source_text
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name
from inspector.sequence.run.scan import Cancel


def read_back(
    plan: Plan,
    files: Sequence[Written],
    staging: Staging,
    sources: Sources,
    progress: Callable[[int, int], None],
    cancelled: Cancel,
) -> int:
    """Compare every file with its record, and its untouched blocks with the source's. Returns how many were compared.

    Raises MeshqcError at the first difference, OSError, Cancelled.
    """
    blocks = 0
    for number, written in enumerate(files, 1):
        if cancelled():
            raise Cancelled("stopped; what is written is kept and resumed by the same command")
        data = staging.read(written.path)
        if sha256(data) != written.sha256:
            raise MeshqcError(f"{Name.from_path(written.path)}: the disk gives back other bytes than were written")
        if written.fixes:
            path = plan.inspection.root / written.sources[0][0]
            source = sources.as_text(sources.read(path), path)
            blocks += compare_untouched(source, data, (word.encode() for word in written.touches), written.path)
        progress(number, len(files))
    return blocks


def compare_untouched(before: bytes, after: bytes, touches: Iterable[bytes], path: str) -> int:
    """Compare all blocks but those with keywords in `touches`, in order. Returns how many the first file has.

    Raises MeshqcError if one differs.
    """
    allowed = frozenset(touches)
    ours, theirs = _untouched(before, allowed), _untouched(after, allowed)
    if b"".join(ours) != b"".join(theirs):
        raise MeshqcError(f"{Name.from_path(path)}: a block changed that no fix may touch; nothing was delivered")
    return len(ours)


def _untouched(data: bytes, touches: frozenset[bytes]) -> list[bytes]:
    source = source_text(data)
    blocks, _ = split_blocks(source.text)
    return [source.data[block.start : block.stop] for block in blocks if block.keyword not in touches]


def sources_unchanged(sources: Sources, cancelled: Cancel) -> int:
    """Read every source file again and compare digests. Returns their number; raises MeshqcError, Cancelled."""
    for path in list(sources.digests):
        if cancelled():
            raise Cancelled("stopped; what is written is kept and resumed by the same command")
        sources.read(path)
    return len(sources.digests)


Found = tuple[tuple[str, Finding], ...]


@dataclass(frozen=True)
class Comparison:
    """gone, left: errors and warnings that steps aimed at, by sequence key; new: those that were not there before."""

    gone: Found
    left: Found
    new: Found


@dataclass(frozen=True)
class _Pair:
    """A sequence's plan and what the delivered frames are found to be; number: after -> as in the source."""

    plan: SequencePlan
    after: tuple[Finding, ...]
    number: Mapping[Fraction, Fraction]
    inherited: Mapping[Fraction, frozenset[Fraction]]

    def in_source(self, finding: Finding) -> set[Fraction]:
        return {self.number.get(frame, frame) for frame in finding.frames}


def compare(plan: Plan, after: FolderInspection) -> Comparison:
    """Hold the findings of the delivered folder against the plan's."""
    gone: list[tuple[str, Finding]] = []
    left: list[tuple[str, Finding]] = []
    new: list[tuple[str, Finding]] = []
    for one in plan.sequences:
        pair = _pair(one, after)
        for finding in serious(one.inspection):
            steps = [step for step in one.steps if finding.check in step.answers and step.fix in finding.fixes]
            aimed = {frame for step in steps for frame in step.frames}
            if aimed & set(finding.frames):
                (left if _is_left(pair, finding, aimed) else gone).append((one.key, finding))
        new += [(one.key, finding) for finding in pair.after if _is_new(pair, finding)]
    return Comparison(tuple(gone), tuple(left), tuple(new))


def second_steps(plan: Plan, after: FolderInspection) -> int:
    """How many steps the same fixes would take once more where findings still call for them."""
    used = {step.fix for step in plan.steps}
    again = make_plan(after, [choice for choice in all_choices(after) if choice.fix in used])
    return len(again.steps)


def _pair(plan: SequencePlan, after: FolderInspection) -> _Pair:
    outputs = {frame_path(plan, output): output for output in plan.outputs}
    findings: list[Finding] = []
    number: dict[Fraction, Fraction] = {}
    facts = plan.inspection.series.facts
    for one in after.inspections:
        places = [_place(one, index) for index in range(len(one.series.facts))]
        own = [(index, outputs[place]) for index, place in enumerate(places) if place in outputs]
        number |= {one.series.facts[index].number: output.number for index, output in own}
        findings += serious(one) if own else ()
    inherited = {
        output.number: frozenset(facts[index].number for index in output.sources)
        for output in plan.outputs
        if output.made
    }
    return _Pair(plan, tuple(findings), number, inherited)


def _place(one: Inspection, index: int) -> str:
    return one.context.file_name(index).text.replace("\\", "/")


def _is_left(pair: _Pair, finding: Finding, aimed: set[Fraction]) -> bool:
    """A frame that was made anew may have what its neighbours have; what is left is left for its own sake."""
    wanted = aimed & set(finding.frames)
    return any(other.cause == finding.cause and pair.in_source(other) & wanted for other in pair.after)


def _is_new(pair: _Pair, finding: Finding) -> bool:
    """Whether some frame has it that did not have it before.

    A made frame may have what its sources had. Where the finding was there before, a frame that no step touched doesn't
    make it new: what counts as ordinary is decided over all frames.
    """
    before = [one for one in serious(pair.plan.inspection) if one.cause == finding.cause]
    if not finding.frames:
        return not before
    known = {frame for one in before for frame in one.frames}
    fresh = pair.in_source(finding) - known
    if before:
        fresh &= {frame for step in pair.plan.steps for frame in step.frames}
    return any(not pair.inherited.get(frame, frozenset()) & known for frame in fresh)
