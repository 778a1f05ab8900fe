"""The tool from Python: what a pipeline calls. `from inspector import inspect, read_frame, plan, deliver`."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path

from inspector.delivery.deliver import Delivery
from inspector.delivery.deliver import deliver as deliver_plan
from inspector.delivery.plan import Choice, Plan, all_choices, lossless_choices, make_plan
from inspector.formats.frame import Frame
from inspector.inspection.folder_rules import load_rules
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.executors import ProcessExecutor
from inspector.sequence.run.scan import load_frame

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
    """Read every frame below `folder` and say what is wrong. Nothing is written, no cache either.

    frames: first and last that should be there. size: longest side of the object in the reference frame, scene units.
    textures: further folders that may be read. reference: the frame that the others are held against. uvs_from: a mesh
    file with the same faces, and UVs. rules: a rules file (else meshqc.toml in the folder or above).
    workers: processes that read the frames; None: threads of this process. A script that asks for processes needs its
    `if __name__ == "__main__"`.

    Raises MeshqcError for a folder or rules that can't be read, or a reference that isn't there. A frame that can't be
    read is a finding.
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
    """One mesh file as arrays: positions (n, 3), uvs (m, 2 or 3), normals (k, 3), float64, read-only; corners as a row
    list (see Frame). Raises MeshqcError that names the file and the cause."""
    return load_frame(Path(path))


def plan(
    inspection: FolderInspection, *, every: bool = False, fixes: Mapping[str, Mapping[str, object]] | None = None
) -> Plan:
    """Work fixes out for what was found; nothing is written.

    Without more: every lossless fix that answers an error or a warning. every: those of the other kinds as well.
    fixes: these by name with their parameters, such as {"scale": {"factor": 0.01}}, and no others but those of `every`.
    Raises Refusal for an unknown fix or parameter, fixes that conflict, and a fix that would guess.
    """
    if fixes is None:
        choices = all_choices(inspection) if every else lossless_choices(inspection)
        return make_plan(inspection, choices)
    others = all_choices(inspection) if every else ()
    asked = [Choice(fix, parameters) for fix, parameters in fixes.items()]
    return make_plan(inspection, [*(choice for choice in others if choice.fix not in fixes), *asked])


def deliver(plan: Plan, out: AnyPath) -> Delivery:
    """Write the corrected folder `out`, which must not exist yet, and prove it; `proof.clean` says whether all that was
    aimed at is gone. Raises Refusal or MeshqcError, after which nothing stands under that name."""
    return deliver_plan(plan.inspection, plan, Path(out))
