"""The Python interface, for pipelines: `from inspector import inspect, plan, deliver, read_frame`."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.finding import Finding, Severity, Where
from inspector.delivery.choices import Choice, all_choices, lossless_choices
from inspector.delivery.deliver import Delivery
from inspector.delivery.deliver import deliver as deliver_plan
from inspector.delivery.plan import Plan
from inspector.delivery.planning import make_plan
from inspector.errors import Cancelled, MeshqcError, Refusal
from inspector.formats.frame import Frame
from inspector.inspection.folder_rules import load_rules
from inspector.inspection.inspection import FolderInspection, Inspection, inspect_folder
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.processes import ProcessExecutor
from inspector.sequence.run.scan import load_frame

__all__ = [
    "Cancelled",
    "Delivery",
    "Finding",
    "FolderInspection",
    "Frame",
    "Inspection",
    "MeshqcError",
    "Plan",
    "Refusal",
    "Severity",
    "Where",
    "deliver",
    "inspect",
    "plan",
    "read_frame",
]

AnyPath = str | os.PathLike[str]
Number = int | float | Fraction


def inspect(
    folder: AnyPath,
    *,
    frames: tuple[Number, Number] | None = None,
    size: float | None = None,
    textures: Iterable[AnyPath] = (),
    reference: Number | None = None,
    uvs_from: AnyPath | None = None,
    rules: AnyPath | None = None,
    workers: int | None = None,
) -> FolderInspection:
    """Read every frame in a folder and run all checks. Nothing is written, and no cache is used.

    Args:
        folder: The folder; its subfolders are inspected too.
        frames: First and last frame that should exist.
        size: Longest side of the object in the reference frame, in scene units.
        textures: Further folders that may be read.
        reference: Number of the reference frame; None for an automatic choice.
        uvs_from: A mesh file whose UVs a fix may copy.
        rules: A rules file; None for the nearest meshqc.toml in the folder or above it, if there is one.
        workers: Number of processes that read the frames; None for threads of this process. If no process can be
            started, this process reads the frames.

    Returns:
        The inspection of the folder, with one `Inspection` per sequence in `inspections`.

    Raises:
        MeshqcError: The folder, the rules or the reference frame can't be read, or the rules are wrong. Other
            unreadable frames are reported as findings.

    Example:
        >>> found = inspect("harbour/kelp_broken", frames=(1, 15), size=1.8)
        >>> found.count(Severity.ERROR)
        5
    """
    settings = Settings(
        expected=None if frames is None else (Fraction(frames[0]), Fraction(frames[1])),
        size=size,
        textures=tuple(map(Path, textures)),
        reference=None if reference is None else Fraction(reference),
        uvs_from=None if uvs_from is None else Path(uvs_from),
    )
    own = load_rules(Path(folder), None if rules is None else Path(rules))
    executor = None if workers is None else ProcessExecutor(workers)
    return inspect_folder(Path(folder), settings.under(own), executor=executor)


def read_frame(path: AnyPath) -> Frame:
    """Read one mesh file.

    Args:
        path: A file of any supported format.

    Returns:
        The frame. Its positions (n, 3), uvs (m, 2 or 3) and normals (k, 3) are float64. The corners of its faces
        contain indices into these three arrays. All arrays are read-only.

    Raises:
        MeshqcError: The file can't be read. The message names the file, the cause and, if it is known, the line.

    Example:
        >>> frame = read_frame("harbour/kelp_broken/kelp_broken.0001.obj")
        >>> frame.positions.dtype, frame.uvs.shape[1], len(frame.corners.v) == int(frame.corners.offsets[-1])
        (dtype('float64'), 2, True)
    """
    return load_frame(Path(path))


def plan(
    inspection: FolderInspection,
    *,
    all: bool = False,
    fixes: Mapping[str, Mapping[str, object]] | None = None,
    invent_at_most: int | None = None,
) -> Plan:
    """Plan fixes for the findings. Nothing is written.

    Args:
        inspection: The result of `inspect`.
        all: Plan every fix that addresses an error or a warning, not only the lossless fixes.
        fixes: Ids of the fixes to plan, with their parameters, such as {"scale": {"factor": 0.01}}. Other fixes are
            planned only if `all` is set. None to let `all` alone select the fixes.
        invent_at_most: Maximum number of frames that one fix may add to a sequence. None for a tenth of the sequence's
            frames, and at most three in a row.

    Returns:
        The plan, which `deliver` carries out.

    Raises:
        Refusal: A fix or parameter is unknown, two fixes conflict, or a fix would have to guess.
        MeshqcError: A file changed after it was inspected.

    Example:
        >>> corrections = plan(inspect("harbour/manta_broken"))
        >>> len(corrections.steps) > 0
        True
    """
    if invent_at_most is not None:
        inspection = replace(inspection, settings=replace(inspection.settings, invent_at_most=invent_at_most))
    if fixes is None:
        return make_plan(inspection, all_choices(inspection) if all else lossless_choices(inspection))
    others = all_choices(inspection) if all else ()
    asked = [Choice(fix, parameters) for fix, parameters in fixes.items()]
    return make_plan(inspection, [*(choice for choice in others if choice.fix not in fixes), *asked])


def deliver(plan: Plan, out: AnyPath) -> Delivery:
    """Write the corrected folder and verify it.

    Args:
        plan: The result of `plan`.
        out: The folder to create; it must not exist yet.

    Returns:
        The delivery, with its inspection in `after`. `proof.clean` is true if every finding that the plan addresses is
        gone, no finding is new, and running the plan again would change nothing.

    Raises:
        Refusal: The delivery was refused; `out` was not created.
        MeshqcError: The delivery failed; `out` was not created.

    Example:
        >>> done = deliver(plan(inspect("harbour/manta"), fixes={"renumber": {"start": 101}}), "manta_101")
        >>> sorted(path.name for path in done.out.glob("*.obj"))[0]
        'manta.0101.obj'
    """
    return deliver_plan(plan, Path(out))
