"""Deliver a plan: write the corrected folder, read it back, compare it with the source, and run the checks again."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from inspector.checks.base.finding import Finding, Severity
from inspector.delivery.comparison import compare
from inspector.delivery.destination import place_for
from inspector.delivery.handoff import HANDOFF_NAME, handoff_bytes
from inspector.delivery.journal import sha256
from inspector.delivery.losses import form_losses, joined, source_losses
from inspector.delivery.plan import Plan, asset_files, plan_digest
from inspector.delivery.receipt import (
    SUMS_NAME,
    left_of,
    left_out_of,
    receipt_bytes,
    receipt_of,
    settings_after,
    sums_bytes,
)
from inspector.delivery.scene_files import Form, put_scenes, refuse_numbers
from inspector.delivery.staging_folder import Staging, disk_error
from inspector.delivery.verify import read_back, second_steps, sources_unchanged
from inspector.delivery.write import DeliveryWriter
from inspector.errors import Refusal
from inspector.fixes.base.fix import DataChange
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.format import Trait
from inspector.inspection.inspection import FolderInspection, check_folder, inspect_folder, measure_all
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.discover import discover
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.scan import Cancel, never

Progress = Callable[[str, int, int], None]
"""Progress callback: receives the stage, the number of finished files or frames in this stage, and their total number.
The stages are "write", "read back", "check", and "as " followed by the id of a format.
"""


@dataclass(frozen=True)
class Proof:
    """The result of the verification of a delivery. Each finding is paired with the key of its sequence.

    Attributes:
        files: Number of files written and read back.
        blocks: Number of untouched blocks that were compared byte for byte; all are equal.
        sources: Number of source files that were read again; all are unchanged.
        gone: Errors and warnings that fixes were to correct and that are gone.
        left: Errors and warnings that fixes were to correct and that remain.
        new: Errors and warnings that the source did not have.
        second: Number of steps that the same fixes would make again on frames that they corrected.
    """

    files: int
    blocks: int
    sources: int
    gone: tuple[tuple[str, Finding], ...]
    left: tuple[tuple[str, Finding], ...]
    new: tuple[tuple[str, Finding], ...]
    second: int

    @property
    def clean(self) -> bool:
        """Whether `left` and `new` are empty and `second` is 0."""
        return not self.left and not self.new and not self.second


@dataclass(frozen=True)
class Delivery:
    """A corrected folder that was written and verified.

    Attributes:
        out: The folder.
        before: Inspection of the source folder.
        after: Inspection of the delivered frames or, if the delivery is a scene file, of the OBJ frames from which it
            was made.
        receipt: The content of the receipt file, as values for JSON.
        proof: The result of the verification.
        by_form: The `cause` of each finding that only the converted frames have, because their format can't hold some
            content.

    Example:
        >>> done = deliver(plan(inspect("harbour/manta"), fixes={"scale": {"factor": 100}}), "manta_in_centimetres")
        >>> done.proof.clean
        True
    """

    out: Path
    before: FolderInspection
    after: FolderInspection
    receipt: Mapping[str, object]
    proof: Proof
    by_form: frozenset[tuple[str, object]] = frozenset()

    @property
    def errors(self) -> int:
        """Number of errors in the delivered frames, not counting errors that are due solely to the format."""
        findings = (finding for one in self.after.inspections for finding in one.findings)
        return sum(one.severity is Severity.ERROR and one.cause not in self.by_form for one in findings)


def deliver(
    plan: Plan,
    out: Path,
    progress: Progress | None = None,
    cancelled: Cancel = never,
    form: Form | None = None,
) -> Delivery:
    """Write the corrected folder under a temporary name, verify it, and then rename it to `out`.

    Unfinished work is kept in a hidden folder beside `out`. The next delivery of the same plan resumes it.

    Args:
        plan: The plan to carry out.
        out: The folder to create.
        progress: Called after each file or frame of each stage.
        cancelled: Returns whether to stop.
        form: The format to which the verified frames are converted; None to keep OBJ.

    Raises:
        Refusal: `out` exists, is inside a folder that is read, or is being written by another run; two files would get
            the same name; or the format can't hold the frames.
        MeshqcError: Writing or verifying failed; `out` was not created.
        Cancelled: The work was stopped; `out` was not created.
    """
    progress_of = progress or (lambda _, __, ___: None)
    if form is not None:
        refuse_form(plan, form)
    staging = Staging(place_for(out, (plan.inspection.root, *plan.inspection.settings.textures)), plan_digest(plan))
    try:
        with staging:
            staging.refuse_small_disk(bytes_needed(plan, form))
            return _deliver(plan, staging, progress_of, cancelled, form)
    except OSError as error:
        raise disk_error(error, staging) from error


def refuse_form(plan: Plan, form: Form) -> None:
    """Check whether a format can hold the frames, as far as this is known before anything is written.

    Raises:
        Refusal: Frame numbers are too large or too far apart, and no step renumbers the frames; or, in a sequence
            without steps, a frame has UVs on only some faces, and the format can't hold such frames.
    """
    for one in plan.sequences:
        if not one.steps and form.format.scene is not None and Trait.PARTIAL_UVS not in form.format.carries:
            partial = [
                each.file.name for each in one.inspection.series.facts if 0 < each.faces_without_uvs < each.faces
            ]
            if partial:
                raise Refusal(
                    f"{partial[0]}: only some faces have UVs, and {form.format.title} can't hold such frames; "
                    "choose another format, or add a fix that completes the UVs"
                )
        if all(step.fix != "renumber" for step in one.steps):
            numbers = [output.number for output in one.outputs]
            refuse_numbers(form, one.inspection.sequence.pattern, numbers)


_LEAST_LINE = 8
"""Minimum number of bytes in a line with a vertex or a face: `v 0 0 0` and its line ending."""
_LEAST_VERTEX = 6
"""Minimum number of bytes of a vertex in a format other than OBJ: three digits as text, each followed by a space."""


def bytes_needed(plan: Plan, form: Form | None) -> int:
    """Return a low estimate of the bytes that the delivery needs on the disk while it is being written.

    `form` is the format to which the frames are converted; None for OBJ.

    Raises:
        Refusal: Two sequences need different files at the same path.
    """
    needed = 0
    for one in plan.sequences:
        smaller = any(DataChange.DROPS in fix_by_id(step.fix).changes for step in one.steps)
        smaller |= any(step.fix == "reduce-decimals" for step in one.steps)
        for output in one.outputs:
            facts = one.inspection.series.facts[output.sources[0]]
            lines = _LEAST_LINE * (facts.vertices + facts.faces)
            needed += facts.file.size // (2 if smaller else 1) if facts.format == "obj" else lines
            if form is not None and form.format.scene is None:
                needed += _LEAST_VERTEX * facts.vertices
    for file in asset_files(plan).values():
        with contextlib.suppress(OSError):  # the error is reported when the file is read
            needed += file.sources[0].stat().st_size if file.content is None else len(file.content)
    return needed


def _deliver(plan: Plan, staging: Staging, progress_of: Progress, cancelled: Cancel, form: Form | None) -> Delivery:
    writing = DeliveryWriter(plan, staging)
    files = writing.run(lambda done, of: progress_of("write", done, of), cancelled)
    blocks = read_back(
        plan, files, staging, writing.sources, lambda done, of: progress_of("read back", done, of), cancelled
    )
    sources = sources_unchanged(writing.sources, cancelled)
    receipt = receipt_of(plan, files, writing.sources)
    # The checks read the receipt, so that frames listed there as invented are not reported as frozen.
    staging.put(RECEIPT_NAME, receipt_bytes(receipt))
    after = _checked(plan, staging, progress_of, cancelled)
    comparison, second = compare(plan, after), second_steps(plan, after)
    lost = source_losses(plan.inspection)
    judged = after
    if form is not None:
        lost = joined(lost, form_losses(after, form.format))
        files = put_scenes(
            form, after, files, staging, lambda done, of: progress_of(f"as {form.id}", done, of), cancelled
        )
        receipt = receipt_of(plan, files, writing.sources)
        judged = _checked(plan, staging, progress_of, cancelled)
    handoff = handoff_bytes(plan, after, lost, form)
    receipt = {**receipt, "left": left_of(judged), "left_out": left_out_of(lost), "handoff": sha256(handoff)}
    notes = {RECEIPT_NAME: receipt_bytes(receipt), HANDOFF_NAME: handoff}
    for name, data in notes.items():
        staging.put(name, data)
    digests = [(file.path, file.sha256) for file in files] + [(name, sha256(data)) for name, data in notes.items()]
    staging.put(SUMS_NAME, sums_bytes(digests))
    staging.finish()
    proof = Proof(len(files), blocks, sources, comparison.gone, comparison.left, comparison.new, second)
    final = moved(judged, staging.out) if judged.inspections else after
    known = {finding.cause for one in after.inspections for finding in one.findings}
    by_form = {finding.cause for one in judged.inspections for finding in one.findings} - known
    return Delivery(staging.out, plan.inspection, final, receipt, proof, frozenset(by_form))


def _checked(plan: Plan, staging: Staging, progress_of: Progress, cancelled: Cancel) -> FolderInspection:
    total = sum(len(one.outputs) for one in plan.sequences)
    done = 0

    def count(_: FrameSequence, __: FrameFacts) -> None:
        nonlocal done
        done += 1
        progress_of("check", done, total)

    staging.ours()
    after = inspect_folder(staging.files, settings_after(plan), count, cancelled)
    staging.ours()
    return after


def moved(after: FolderInspection, out: Path) -> FolderInspection:
    """Return the inspection of the staging folder with the paths of the final folder (`out`).

    A sequence is measured again only if one of its files in the final folder was not in the staging folder.
    """
    known = {(one.sequence.relative, facts.file.name): facts for one in after.inspections for facts in one.series.facts}
    discovery = discover(out)
    measured = []
    for sequence in discovery.sequences:
        facts = [known.get((sequence.relative, file.name)) for file in sequence.files]
        if None in facts:
            measured += measure_all([sequence], FactsCache(None))
            continue
        moved = (replace(one, file=file) for one, file in zip(facts, sequence.files, strict=True) if one)
        measured.append((sequence, tuple(moved)))
    return check_folder(discovery, measured, after.settings)
