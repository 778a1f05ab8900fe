"""Take UVs from a donor, a mesh file with the same faces."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.context import CheckContext
from inspector.errors import MeshqcError, Refusal
from inspector.fixes.base.fix import Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.uvs import (
    NAME_DONOR,
    UvSet,
    apply_uv_set,
    donor_of,
    frames_without_uvs,
    refuse_other_faces,
    uv_changes,
    uv_set_of,
    uv_summary,
)
from inspector.formats.frame import Frame
from inspector.names import safe
from inspector.sequence.discovery.listing import mesh_suffix

_MOST_BESIDE = 8
"""Maximum number of mesh files beside the frames. If there are more, none is read to find the donor, because the folder
is probably a model library."""


def plan(context: CheckContext, parameters: Parameters, frames: tuple[Fraction, ...] | None) -> Step[UvSet]:
    """Read the donor, and find the frames that have corners without UVs.

    Raises:
        Refusal: Every frame has UVs; all chosen frames are empty, or a chosen frame doesn't exist or can't be read; the
            named donor doesn't exist, has no UVs or has different faces; or no donor is named, and none or several of
            the files beside the frames fit.
        MeshqcError: The donor can't be read.
    """
    indices = frames_without_uvs(context, frames)
    if "from" in parameters or context.settings.uvs_from is not None:
        path, donor = donor_of(context, parameters)
        refuse_other_faces(context, donor, safe(path.name), indices)
    else:
        path, donor = _donor_beside(context, indices)
    name = safe(path.name)
    given, numbers = uv_set_of(donor), context.numbers(indices)
    return Step(
        FIX.id,
        {"from": str(path.absolute())},
        numbers,
        uv_summary(numbers, name),
        uv_changes(context, indices[0], given),
        work=given,
    )


def _donor_beside(context: CheckContext, indices: Sequence[int]) -> tuple[Path, Frame]:
    """Return the path and the content of the donor: the only mesh file beside the frames that has UVs and the same
    faces as the frames.

    Frames of a sequence don't count as such files.

    Raises:
        Refusal: No file fits, or more than one file fits.
    """
    found = []
    for path in _files_beside(context):
        try:
            donor = donor_of(context, {"from": str(path)})
            refuse_other_faces(context, donor[1], safe(path.name), indices)
        except (MeshqcError, Refusal):
            continue
        found.append(donor)
    if len(found) == 1:
        return found[0]
    names = ", ".join(safe(path.name) for path, _ in found)
    fitting = f"more than one mesh file fits: {names}" if found else "no mesh file beside the frames fits"
    raise Refusal(f"{fitting}; {NAME_DONOR}")


def _files_beside(context: CheckContext) -> Iterator[Path]:
    """Yield the mesh files beside the reference frame, except links and frames of a sequence; none if there are more
    than _MOST_BESIDE."""
    series = (context.series, *context.siblings)
    numbered = {facts.file.path for one in series for facts in one.facts}
    folder = context.series.reference_facts.file.path.parent
    files = [folder / name for name in context.resolver.scope.names_in(folder) if mesh_suffix(os.fsencode(name))]
    others = [path for path in files if path not in numbered and not path.is_symlink()]
    yield from others if len(others) <= _MOST_BESIDE else ()


FIX = Fix(
    id="uv-donor",
    title="UVs from a donor file",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS}),
    does="Copies the UVs of a different mesh file whose faces have the same vertex indices. If no file is named, uses "
    "the only such file beside the frames.",
    cost="The UVs come from a different file. The only evidence that they belong to these frames is that the faces are "
    "the same.",
    touches=frozenset({b"vt", b"f", b"fo"}),
    claims=frozenset({Claim.UVS}),
    plan=plan,
    parameters={
        "from": (
            "mesh file with UVs and the same faces; default: the file given with --uvs-from or, without it, the only "
            "such file beside the frames"
        )
    },
    path="from",
    edit_frame=apply_uv_set,
)
