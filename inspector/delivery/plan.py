"""The chosen fixes in the order in which they apply, planned once for each whole sequence."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path

import numpy as np

from inspector import __version__
from inspector.delivery.allocate import allocate
from inspector.delivery.choices import Choice, Refused, sequence_key
from inspector.delivery.journal import sha256
from inspector.errors import MeshqcError, Refusal
from inspector.fixes.base.assets import Assets, source_assets
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrames, source_frames
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name, safe


@dataclass(frozen=True)
class SequencePlan:
    """What becomes of one sequence: steps in canonical order, the frames to write, what goes along with them."""

    key: str
    inspection: Inspection
    steps: tuple[AnyStep, ...]
    outputs: OutputFrames
    assets: Assets
    refused: tuple[Refused, ...] = ()


@dataclass(frozen=True)
class Plan:
    """What becomes of a folder. choices: as they were given."""

    choices: tuple[Choice, ...]
    inspection: FolderInspection
    sequences: tuple[SequencePlan, ...]

    @property
    def steps(self) -> tuple[AnyStep, ...]:
        """The steps of all sequences; none: there is nothing to correct."""
        return tuple(step for one in self.sequences for step in one.steps)


def make_plan(inspection: FolderInspection, choices: Sequence[Choice]) -> Plan:
    """Work the choices out. Raises Refusal for an unknown fix or parameter, two choices that claim the same value of a
    frame, and a fix that was asked for and would be a guess."""
    settled = _for_this_folder(inspection, choices)
    sequences = tuple(_plan_sequence(one, settled) for one in inspection.inspections)
    return Plan(tuple(choices), inspection, sequences)


def _for_this_folder(inspection: FolderInspection, choices: Iterable[Choice]) -> list[Choice]:
    """Choices for sequences of the folder. A plan for one sequence fits a folder with one, whatever its name."""
    keys = [sequence_key(one) for one in inspection.inspections]
    wanted = {choice.sequence for choice in choices if choice.sequence is not None}
    strange = wanted - set(keys)
    if not strange:
        return list(choices)
    if len(keys) == 1 and len(wanted) == 1:
        return [Choice(one.fix, one.parameters, None, one.frames, one.asked) for one in choices]
    raise Refusal(f"the folder has no sequence {', '.join(safe(name) for name in sorted(strange))}")


def _plan_sequence(inspection: Inspection, choices: Iterable[Choice]) -> SequencePlan:
    key = sequence_key(inspection)
    own = [choice for choice in choices if choice.sequence in (None, key)]
    steps, refused = allocate(inspection, own)
    asked = {choice.fix for choice in own if choice.asked}
    outputs, assets, kept = source_frames(inspection.series), source_assets(inspection.context), []
    for step in steps:
        try:
            outputs, assets = _applied(inspection, step, outputs, assets)
        except Refusal as reason:
            if step.fix in asked:
                raise Refusal(f"{step.fix}: {reason}") from reason
            refused.append(Refused(step.fix, step.frames, str(reason)))
            continue
        kept.append(step)
    return SequencePlan(key, inspection, tuple(kept), outputs, assets, tuple(refused))


def _applied(
    inspection: Inspection, step: AnyStep, outputs: OutputFrames, assets: Assets
) -> tuple[OutputFrames, Assets]:
    fix = fix_by_id(step.fix)
    if fix.edit_output is not None:
        outputs = fix.edit_output(outputs, step, inspection.context)
    if fix.edit_assets is not None:
        assets = fix.edit_assets(assets, step, inspection.context)
    return outputs, assets


def plan_digest(plan: Plan) -> str:
    """Hash everything that decides what is written, so that unfinished work is only resumed by the same plan.

    Held are what was stated about the folder, the steps with all that they found (values taken from the reference, from
    a donor file or from other frames are among them), the frames to write, the libraries and textures that are made,
    and the size and time of every source file.

    Returns:
        Hexadecimal SHA-256.

    Raises:
        MeshqcError: A file that is delivered with the frames is gone.
    """
    digest = hashlib.sha256()
    settings = plan.inspection.settings
    _feed(digest, [__version__, settings.expected, settings.size, settings.reference, settings.rate])
    for sequence in plan.sequences:
        _feed(digest, _sequence_state(sequence))
    return digest.hexdigest()


def _feed(digest: hashlib._Hash, value: object) -> None:
    """Add a value to a digest, the same in every process: whether parts of it are one object makes no difference."""
    if isinstance(value, np.ndarray):
        digest.update(f"{value.dtype}{value.shape}".encode())
        digest.update(np.ascontiguousarray(value).data)
        return
    parts: list[object] | None = None
    if is_dataclass(value):
        parts = [getattr(value, field.name) for field in fields(value)]
    elif isinstance(value, Mapping):
        parts = list(value.items())
    elif isinstance(value, Set):
        parts = sorted(value, key=repr)
    elif isinstance(value, list | tuple):
        parts = list(value)
    if parts is None:
        text = value if isinstance(value, bytes) else repr(value).encode("utf-8", "surrogateescape")
        digest.update(b"%s %d " % (type(value).__name__.encode(), len(text)) + text)
        return
    digest.update(b"%s %d " % (type(value).__name__.encode(), len(parts)))
    for part in parts:
        _feed(digest, part)


def _sequence_state(plan: SequencePlan) -> dict[str, object]:
    return {
        "key": plan.key,
        "steps": [[step.fix, step.parameters, step.frames, step.work] for step in plan.steps],
        "outputs": [[output.file.text, output.sources, output.weights, output.made] for output in plan.outputs],
        "frames": [
            [str(facts.file.path), facts.file.size, facts.file.mtime_ns] for facts in plan.inspection.series.facts
        ],
        "reference": plan.inspection.series.reference_index,
        "assets": [
            [path, [_state(source) for source in file.sources], None if file.content is None else sha256(file.content)]
            for path, file in plan.assets.files().items()
        ],
    }


def _state(path: Path) -> list[object]:
    try:
        status = path.stat()
    except OSError as error:
        raise MeshqcError(f"{Name.from_path(path)}: {error.strerror}") from error
    return [str(path), status.st_size, status.st_mtime_ns]
