"""Frames on which the whole surface, or a part of it, is off its path."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.exploded import exploded_frames, same_faces
from inspector.checks.base.face_change import ORDER_FACTOR
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, in_diagonals, two_digits, vertex_places
from inspector.checks.base.off_path import (
    POP_DIAGONALS,
    POP_OF_SPEED,
    POP_SHAPE,
    POP_SPREADS,
    SPIKE_SHARE,
    SURFACE_OFF,
    WHOLE_SHARE,
    Pop,
    pops_and_spikes,
    slips,
    strays,
)
from inspector.checks.base.renumbered import renumbered_frames
from inspector.checks.base.smoothness import ROUGHNESS_LEFT
from inspector.checks.base.topology_changes import mirrored_frames, usual_order
from inspector.names import amount
from inspector.sequence.series import NUMBERING_KEPT, NUMBERING_LOST, NUMBERING_POINTS


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    series = context.series
    found = pops_and_spikes(context)
    in_order = set(context.unexplained(usual_order(context))) - set(mirrored_frames(context))
    diagonal = float(series.diagonals[series.reference_index or 0])
    for kind, words, pops in (
        ("part", "{share:.0%} of the surface is", found.parts),
        ("whole", "the object as a whole is", found.whole),
    ):
        met = {index: pop for index, pop in pops.items() if index in in_order}
        if met:
            yield _finding(context, kind, words, met, diagonal)
    known = {*found.spikes, *found.parts, *found.whole, *mirrored_frames(context)}
    for kind, words, off in (
        ("slip", "the object as a whole is off its path by", slips(context)),
        ("surface", "the whole surface is off its path by a root-mean-square distance of", strays(context)),
    ):
        frames = sorted(set(context.unexplained(off)) - known)
        known.update(frames)
        if frames:
            most = max(off[index] for index in frames)
            yield Finding(
                CHECK.id,
                Severity.WARNING,
                f"{words} up to {amount(most, 'unit')} ({in_diagonals(most / diagonal)})",
                context.numbers(frames),
                files(context, frames),
                {"kind": kind, "distance": most, "diagonals": most / diagonal},
                CHECK.fixes,
            )

    torn = _torn_frames(context)
    torn = {index: torn[index] for index in context.unexplained(torn) if index not in known}
    if torn:
        ratio = max(torn.values(), key=lambda ratio: abs(math.log(ratio)))
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"edges are {two_digits(ratio)} times as long as on the neighbouring frames, although the bounding box has "
            "about the same size",
            context.numbers(sorted(torn)),
            files(context, sorted(torn)),
            {"kind": "torn", "ratio": ratio},
            CHECK.fixes,
        )


def _torn_frames(context: CheckContext) -> dict[int, float]:
    """Find torn frames, whose edges are far longer than on neighbouring frames, although the vertex order is the same.

    If most frames have long edges, the frames with short edges are returned instead.

    Returns:
        Index of the frame -> ratio of its edge length to that of the nearest frame that isn't torn.
    """
    renumbered, facts = renumbered_frames(context), context.series.facts
    longer = set(exploded_frames(context)) - set(renumbered)
    rest = set(same_faces(context)) - longer - set(renumbered)
    torn, others = (longer, rest) if len(longer) <= len(rest) else (rest, longer)
    sound = np.array([index for index in sorted(others) if facts[index].edge_length > 0.0])
    if not longer or not len(sound):
        return {}
    return {
        index: facts[index].edge_length / facts[int(sound[np.abs(sound - index).argmin()])].edge_length
        for index in sorted(torn)
        if facts[index].edge_length > 0.0
    }


def _finding(context: CheckContext, kind: str, words: str, met: dict[int, Pop], diagonal: float) -> Finding:
    worst = max(met.values(), key=lambda pop: pop.distance)
    distance = worst.distance / diagonal
    by = f"{amount(worst.distance, 'unit')} ({in_diagonals(distance)})"
    return Finding(
        CHECK.id,
        Severity.WARNING,
        f"{words.format(share=worst.share)} off its path by up to {by}",
        context.numbers(sorted(met)),
        vertex_places(context, {index: pop.vertex for index, pop in met.items()}),
        {"kind": kind, "distance": worst.distance, "diagonals": distance, "share": worst.share},
        CHECK.fixes,
    )


CHECK = Check(
    id="pop",
    title="Pop",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="On one frame, points are off the path that they follow before and after, by more than their usual "
        "movement from frame to frame. In other cases, the points of a frame are scattered, so its edges are far "
        "longer than on the neighbouring frames.",
        after_import="The surface twitches for one frame, and motion blur smears it.",
        what_to_do="Look at the frame: a simulation or a constraint may have slipped, or the frame may come from a "
        "different version. Export it again, or use the fix that replaces it with a blend of its neighbours.",
    ),
    run=run,
    fixes=("fill-frames",),
    scope=CheckScope.SEQUENCE,
    thresholds=(
        POP_DIAGONALS,
        POP_OF_SPEED,
        POP_SPREADS,
        POP_SHAPE,
        WHOLE_SHARE,
        SPIKE_SHARE,
        SURFACE_OFF,
        ROUGHNESS_LEFT,
        ORDER_FACTOR,
        NUMBERING_KEPT,
        NUMBERING_LOST,
        NUMBERING_POINTS,
    ),
    explained_by=("centre-jump", "size-jump", "noisy-frame", "swapped-frames", "frozen", "winding", "vertex-order"),
)
