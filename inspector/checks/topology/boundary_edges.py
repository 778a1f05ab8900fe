"""Frames in which the number of boundary edges or of non-manifold edges changes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.arrays import Indices
from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import mesh_changes_throughout
from inspector.checks.base.face_change import FaceChange
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import base_facts, count_of, files, range_of, usable_where
from inspector.checks.base.topology_changes import EDGES, changed_places, edge_counts, ending_open, reported_by
from inspector.checks.base.whole_surfaces import SIDE_SHARE, odd_edges, whole_indices
from inspector.formats.element_lines import face_line
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.edges import edges_of


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    if not base.faces:
        raise NotApplicable("there are no faces")
    if mesh_changes_throughout(context):
        yield from _of_changing_meshes(context)
        return

    def split(facts: FrameFacts) -> bool:
        """Whether vertices of a frame were split or merged.

        The frame must have as many faces and components as the reference frame, but a different number of vertices, and
        a different number of boundary edges or of non-manifold edges.
        """
        joined = facts.faces == base.faces and facts.vertices != base.vertices and facts.components == base.components
        return joined and edge_counts(facts) != edge_counts(base) and whole_indices(facts)

    torn = reported_by(context, EDGES)
    frames = context.unexplained(sorted({*usable_where(context, split), *torn}))
    if not frames:
        return
    facts = context.series.facts[frames[0]]
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{_faces(torn)}{_words(facts)}; the reference frame has {_words(base)}",
        context.numbers(frames),
        changed_places(context, torn) if torn else files(context, frames),
        {
            "boundary": facts.boundary_edges,
            "non_manifold": facts.non_manifold_edges,
            "reference_boundary": base.boundary_edges,
            "reference_non_manifold": base.non_manifold_edges,
        },
        CHECK.fixes,
    )


def _of_changing_meshes(context: CheckContext) -> Iterator[Finding]:
    """Report slits and folds in single frames of a changing mesh that is closed in nearly all frames.

    Frames whose file seems to be cut off are left out.

    Raises:
        NotApplicable: More than SIDE_SHARE of the frames have boundary edges or non-manifold edges.
    """
    odd = odd_edges(context, lambda facts: sum(edge_counts(facts)))
    whole = usable_where(context, whole_indices)
    opened = sum(any(edge_counts(context.series.facts[index])) for index in whole)
    if opened and not odd:
        raise NotApplicable(
            "the topology changes from frame to frame, as in a simulation, and the mesh isn't closed on "
            f"{opened:,} of {len(whole):,} frames"
        )
    frames = [index for index in odd if index not in ending_open(context)]
    if not frames:
        return
    facts = context.series.facts[frames[0]]
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{_words(facts)}, although the surface is closed on the other frames",
        context.numbers(frames),
        tuple(where for index in frames[: limits.PLACES_KEPT] for where in _slit(context, index))[: limits.PLACES_KEPT],
        {"boundary": facts.boundary_edges, "non_manifold": facts.non_manifold_edges},
    )


def _slit(context: CheckContext, index: int) -> list[Where]:
    """Return the locations of the faces with the most boundary edges and non-manifold edges.

    At most limits.PLACES_KEPT locations are returned.

    A face with a wrong corner has two such edges, and its neighbours have one such edge each.
    """
    frame = context.frame(index)
    edges = edges_of(frame.corners, frame.corners.v)
    odd = np.bincount(edges.face[edges.uses[edges.edge] != 2], minlength=frame.faces)
    worst = np.argsort(-odd, kind="stable")[: limits.PLACES_KEPT]
    name = context.file_name(index)
    return [Where(name, face_line(frame, face), f"face {face + 1}") for face in worst[odd[worst] > 0].tolist()]


def _words(facts: FrameFacts) -> str:
    non_manifold = count_of(facts.non_manifold_edges, "non-manifold edge")
    return f"{count_of(facts.boundary_edges, 'boundary edge')} and {non_manifold}"


def _faces(torn: dict[int, FaceChange]) -> str:
    """Return the beginning of a message: how many faces have a wrong corner; "" if `torn` is empty."""
    if not torn:
        return ""
    return f"{range_of([change.count for change in torn.values()], 'face')} with a wrong vertex index: "


def _affected(frame: Frame, _: Frame | None) -> Indices:
    """Return the faces with a boundary edge or a non-manifold edge, as ascending zero-based indices, (k,)."""
    edges = edges_of(frame.corners, frame.corners.v)
    return np.unique(edges.face[edges.uses[edges.edge] != 2])


CHECK = Check(
    id="boundary-edges",
    title="Boundary edges change",
    severity=Severity.ERROR,
    needs=(Trait.SHARED,),
    rationale=Rationale(
        what="A boundary edge belongs to one face, and a non-manifold edge belongs to three or more faces. Both may be "
        "intended: the rim of a sheet, for example, has boundary edges. On these frames, the numbers of such edges "
        "differ from the reference frame's.",
        after_import="On these frames, a slit opens along a seam, or a fold appears. Smooth shading breaks at the "
        "slit or fold.",
        what_to_do="Look for an operation that welds, mirrors or splits vertices only on some frames. Apply the "
        "operation once to the static model, and export again.",
    ),
    run=run,
    fixes=("fill-frames",),
    explained_by=("vertex-count",),
    thresholds=(SIDE_SHARE,),
    affected_faces=_affected,
)
