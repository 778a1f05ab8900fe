"""Plans: the steps of each sequence, the frames to write, and the libraries and textures to deliver with them."""

from __future__ import annotations

import hashlib
import posixpath
from collections.abc import Mapping, Set
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path

import numpy as np

from inspector import __version__
from inspector.delivery.choices import Choice, Refused
from inspector.delivery.journal import sha256
from inspector.errors import MeshqcError, Refusal
from inspector.fixes.base.assets import AssetFile, Assets, folder_of
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrame, OutputFrames
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name


@dataclass(frozen=True)
class SequencePlan:
    """The plan for one sequence.

    Attributes:
        key: Key of the sequence in its folder.
        inspection: The inspection on which the plan is based.
        steps: The steps, in the order of their application.
        outputs: The frames to write.
        assets: The libraries and textures to deliver with the frames.
        refused: Fixes that are left out for some or all frames, with the frames and the reasons.
    """

    key: str
    inspection: Inspection
    steps: tuple[AnyStep, ...]
    outputs: OutputFrames
    assets: Assets
    refused: tuple[Refused, ...] = ()


@dataclass(frozen=True)
class Plan:
    """The plan for a folder.

    Attributes:
        choices: The chosen fixes.
        inspection: The inspection on which the plan is based.
        sequences: The plan for each sequence.

    Example:
        >>> corrections = plan(inspect("harbour/kelp_broken"), fixes={"scale": {"factor": 0.01}})
        >>> [step.fix for step in corrections.steps]
        ['scale']
    """

    choices: tuple[Choice, ...]
    inspection: FolderInspection
    sequences: tuple[SequencePlan, ...]

    @property
    def steps(self) -> tuple[AnyStep, ...]:
        """The steps of all sequences. Empty if the plan has nothing to correct."""
        return tuple(step for one in self.sequences for step in one.steps)


def frame_path(plan: SequencePlan, output: OutputFrame) -> str:
    """Return the path of a frame in the delivered folder.

    Args:
        plan: The plan of the frame's sequence.
        output: The frame.
    """
    return posixpath.join(folder_of(plan.inspection.context), output.file_name)


def asset_files(plan: Plan) -> dict[str, AssetFile]:
    """Collect the libraries and textures to deliver with the frames of all sequences, by path.

    Raises:
        Refusal: Two sequences need different files at the same path.
    """
    files: dict[str, AssetFile] = {}
    for one in plan.sequences:
        for place, file in one.assets.files().items():
            other = files.setdefault(place, file)
            if other == file:
                continue
            if other.sources != file.sources or (other.content is not None and file.content is not None):
                raise Refusal(f"{Name.from_path(place)}: two sequences need different files at this path")
            # One sequence repairs the library, and the other uses it unchanged: both get the repaired library.
            files[place] = other if file.content is None else file
    return files


def plan_digest(plan: Plan) -> str:
    """Hash everything that determines the written files, so that only the same plan resumes unfinished work.

    Source files are represented by their sizes and modification times.

    Returns:
        Hexadecimal SHA-256.

    Raises:
        MeshqcError: A source file of a library or texture doesn't exist, or its status can't be read.
    """
    digest = hashlib.sha256()
    settings = plan.inspection.settings
    _feed(digest, [__version__, settings.expected, settings.size, settings.reference, settings.rate])
    for sequence in plan.sequences:
        _feed(digest, _sequence_state(sequence))
    return digest.hexdigest()


def _feed(digest: hashlib._Hash, value: object) -> None:
    """Add a value to a digest. Equal values give equal digests in every process."""
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
