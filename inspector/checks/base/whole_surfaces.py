"""Find frames whose faces are complete, in meshes whose topology changes from frame to frame."""

from __future__ import annotations

from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import Count, mesh_changes_throughout
from inspector.checks.base.helpers import usable_where
from inspector.sequence.measure.facts import FrameFacts
from inspector.threshold import Threshold

SIDE_SHARE = Threshold(
    "side-share",
    0.1,
    "If at most this share of the frames differ from the others, the difference counts as a fault of these frames. The "
    "limit is needed if the topology changes from frame to frame, because frames then can't be compared face by face.",
    "of the frames",
)


def whole_indices(facts: FrameFacts) -> bool:
    """Whether every corner of a frame has a vertex. If not, the checks of indices report the frame."""
    return facts.problem("index-range") is None and facts.problem("index-zero") is None


def odd_edges(context: CheckContext, counted: Count) -> list[int]:
    """Return the indices of the few frames that have edges of the kind that `counted` counts.

    The result is empty unless the number of faces or vertices changes throughout the sequence. It is also empty if more
    than SIDE_SHARE of the frames have such edges.
    """
    if not mesh_changes_throughout(context):
        return []
    frames = usable_where(context, whole_indices)
    found = [index for index in frames if counted(context.series.facts[index])]
    return found if len(found) <= SIDE_SHARE.value * len(frames) else []


def whole_surfaces(context: CheckContext) -> list[int]:
    """Return the indices of the frames whose faces are complete.

    The shape of the surface is meaningful only in these frames.
    """
    return context.once(_whole_surfaces)


def _whole_surfaces(context: CheckContext) -> list[int]:
    odd = {
        *odd_edges(context, lambda facts: facts.boundary_edges),
        *odd_edges(context, lambda facts: facts.non_manifold_edges),
    }
    return [index for index in usable_where(context, whole_indices) if index not in odd]
