"""UVs from a donor file of the same connectivity."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from inspector.checks.base.evidence import Evidence
from inspector.errors import Refusal
from inspector.fixes.base.fix import Fix, FixKind, Parameters, Step
from inspector.fixes.base.frames import readable_indices
from inspector.fixes.base.uvs import (
    apply_uv_set,
    has_whole_uvs,
    refuse_other_faces,
    uv_changes,
    uv_set_of,
    uv_summary,
)
from inspector.names import safe
from inspector.sequence.scan import load_frame


def work_out(evidence: Evidence, parameters: Parameters, frames: tuple[Fraction, ...] | None) -> Step:
    path = _donor_path(evidence, parameters)
    donor, name = load_frame(path), safe(path.name)
    if not has_whole_uvs(donor):
        raise Refusal(f"{name} lacks UVs itself")
    facts = evidence.series.facts
    wanted = tuple(one.number for one in facts if one.readable and one.faces_without_uvs) if frames is None else frames
    indices = readable_indices(evidence, wanted)
    if not indices:
        raise Refusal("every frame has UVs at all corners")
    refuse_other_faces(evidence, donor, name, indices)
    given, numbers = uv_set_of(donor), evidence.numbers(indices)
    return Step(
        FIX.id,
        {"from": str(path.absolute())},
        numbers,
        uv_summary(numbers, name),
        uv_changes(evidence, indices[0], given),
        work=given,
    )


def _donor_path(evidence: Evidence, parameters: Parameters) -> Path:
    stated = parameters.get("from", evidence.settings.uvs_from)
    if stated is None:
        raise Refusal("give the file that has the UVs: from=FILE or --uvs-from FILE")
    return Path(str(stated))


FIX = Fix(
    id="uv-donor",
    title="UVs from a donor file",
    kind=FixKind.INVENTING,
    does="Gives frames the UVs of another mesh file, if that has the same faces with the same vertex indices.",
    cost="The UVs come from another file; that they were meant for these frames is taken from the equal faces.",
    stage=22,
    touches=frozenset({b"vt", b"f", b"fo"}),
    claims=frozenset({"uvs"}),
    work_out=work_out,
    parameters={"from": "mesh file with the same faces that has UVs"},
    frame=apply_uv_set,
)
