"""Single frames in which the whole surface is noisy."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, in_diagonals
from inspector.checks.base.off_path import pops_and_spikes
from inspector.checks.base.smoothness import ROUGHNESS_LEFT, gaps, incoherent, single_outliers
from inspector.checks.base.steps import JUMP_WINDOW, JUMPS_OF_A_POSE_SET
from inspector.checks.base.turned import upset_frames
from inspector.checks.base.whole_surfaces import whole_surfaces
from inspector.names import amount
from inspector.surface.edges import next_corner
from inspector.threshold import Threshold

NOISE_LEAST = Threshold(
    "noise-least",
    1e-3,
    "A frame can count as noisy only if the root-mean-square distance of its vertices from their smooth motion is "
    "larger than this limit. The limit corresponds to two to four pixels if the object fills a picture 2,000 to 4,000 "
    "pixels wide.",
    "diagonals of the reference frame",
)
NOISE_MOST = Threshold(
    "noise-most",
    0.05,
    "A frame can count as noisy only if the root-mean-square distance of its vertices from their smooth motion is at "
    "most this. A larger distance doesn't count as noise, because it has a different cause, such as a different order "
    "of the vertices.",
    "diagonals of the reference frame",
)
NOISE_APART = Threshold(
    "noise-apart",
    0.8,
    "A frame counts as noisy only if neighbouring vertices are displaced independently. The median difference between "
    "the offsets of an edge's two ends must be at least this many times the root mean square of all offsets. For "
    "independent, normally distributed noise, the ratio is 1.26: the square root of 2, multiplied by the ratio of a "
    "Maxwell distribution's median to its root mean square (0.89). In a dent, or in a part with a different pose, the "
    "ratio is smaller, because neighbouring vertices move together.",
)
NOISE_OF_POP = Threshold(
    "noise-of-pop",
    4.0,
    "A frame can count as noisy only if the largest offset of a vertex is at most this many times the root mean square "
    "of all offsets. Among 64 vertices with normally distributed offsets, the largest offset is two to three times the "
    "root mean square. If the pose is different or a part is displaced, the largest offset is larger.",
)

NOISE_POINTS = Threshold(
    "noise-points",
    12,
    "Minimum number of sampled vertices for distinguishing noise from a single displaced vertex. Noise is what remains "
    "of the vertices' positions after a smooth field over the surface has been subtracted. With fewer vertices, this "
    "field would remove half of the noise as well.",
    "vertices",
)


NOISE_ROUGHER = Threshold(
    "noise-rougher",
    1.5,
    "If vertices can't be followed, a frame can count as noisy only if it is more than this many times as rough as the "
    "roughest nearby frame. Both roughnesses are divided by the mean area of the faces, because even a smooth surface "
    "is rougher if its faces are larger. After the division, a different face size still changes the roughness by up "
    "to an eighth.",
)
NOISE_ROUGHER_TOO = Threshold(
    "noise-rougher-too",
    1.1,
    "If vertices can't be followed, a frame must also meet this second condition to count as noisy. Its roughness, "
    "divided by the diagonal of the bounding box, must be more than this many times that of the roughest nearby frame. "
    "The condition is needed because otherwise, a frame with smaller faces would be reported for the usual noise of a "
    "scan.",
)

NOISE_OF_BUMP = Threshold(
    "noise-of-bump",
    8.0,
    "If vertices can't be followed, a frame can count as noisy only if the ratio of the largest to the median distance "
    "of its vertices from the surrounding surface is at most this value. For a thousand vertices with normally "
    "distributed offsets, the ratio is about 2.7. If a few vertices are displaced, the ratio is larger.",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    rougher = context.unexplained(_rougher_frames(context))
    if rougher:
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"the surface is more than {NOISE_ROUGHER.value:g} times as rough as on any nearby frame, relative to the "
            "size of its faces",
            context.numbers(rougher),
            files(context, rougher),
            {"kind": "rougher"},
            CHECK.fixes,
        )
    yield from _of_followed(context)


def _rougher_frames(context: CheckContext) -> list[int]:
    """Return the indices of frames whose surface is far rougher than the surface of every nearby frame.

    A few displaced vertices don't make a surface rough. The roughness of a frame is measured only if vertices can't be
    followed from the previous frame; otherwise, it is unknown. The result is empty unless the roughness of more than
    half of the frames is known.
    """
    series = context.series
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        off = np.array([np.nan if one.roughness is None else one.roughness for one in series.facts])
        off[sorted(set(range(len(off))) - set(whole_surfaces(context)))] = np.nan
        rough = off / series.diagonals
        sharp = off * np.array([one.faces / one.area if one.area else np.nan for one in series.facts])
    if 2 * np.isfinite(rough).sum() <= len(rough):
        return []
    farthest = [np.inf if one.bump is None else float(np.linalg.norm(one.bump.displacement)) for one in series.facts]
    return [
        int(index)
        for index in np.flatnonzero(np.isfinite(rough))
        if is_rougher(rough, sharp, int(index)) and farthest[index] <= NOISE_OF_BUMP.value * off[index]
    ]


def is_rougher(rough: Floats, sharp: Floats, index: int) -> bool:
    """Whether the surface of a frame is far rougher than the surface of every nearby frame.

    The result is False if the roughness of fewer than JUMP_WINDOW nearby frames is known.

    Args:
        rough: Roughness of each frame divided by the diagonal of its bounding box, (n,); NaN if unknown.
        sharp: Roughness of each frame divided by the mean area of its faces, (n,); NaN if unknown.
        index: Index of the frame.
    """
    low = max(0, index - JUMP_WINDOW.value)
    around = np.delete(np.arange(low, min(index + JUMP_WINDOW.value + 1, len(rough))), index - low)
    around = around[np.isfinite(rough[around])]
    return bool(
        len(around) >= JUMP_WINDOW.value
        and rough[index] > max(NOISE_LEAST.value, NOISE_ROUGHER_TOO.value * rough[around].max())
        and sharp[index] > NOISE_ROUGHER.value * sharp[around].max()
    )


def _of_followed(context: CheckContext) -> Iterator[Finding]:
    rough, diagonal = context.once(incoherent), float(context.series.diagonals[context.series.reference_index or 0])
    if rough is None or rough.shape[1] < NOISE_POINTS.value or not 0.0 < diagonal < np.inf:
        return
    curve, share = rough.reshape(len(rough), -1), rough.shape[1] ** 0.5
    with np.errstate(over="ignore", invalid="ignore"):
        off = single_outliers(curve, gaps(context), NOISE_LEAST.value * diagonal * share)
    pops = pops_and_spikes(context)
    apart = {**pops.spikes, **pops.parts, **pops.whole}
    found = {}
    facts = context.series.facts
    alone = [index for index in off if not facts[index].still and not facts[index + 1].still]  # not held poses
    for index in context.unexplained(alone):
        distance = off[index] / share
        pop = apart[index].distance if index in apart else 0.0
        likely = distance <= NOISE_MOST.value * diagonal and pop <= NOISE_OF_POP.value * distance
        if likely and index not in upset_frames(context) and _apart(context, index) >= NOISE_APART.value * distance:
            found[index] = distance
    if not found or len(found) > max(2.0, JUMPS_OF_A_POSE_SET.value * len(curve)):
        return
    most = max(found.values())
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"vertices are displaced in all directions, independently of each other, by a root-mean-square "
        f"distance of {amount(most, 'unit', '.3g')} ({in_diagonals(most / diagonal)}); the neighbouring frames are "
        "smooth",
        context.numbers(sorted(found)),
        files(context, sorted(found)),
        {"kind": "off", "distance": most, "diagonals": most / diagonal},
        CHECK.fixes,
    )


def _apart(context: CheckContext, index: int) -> float:
    """Return the median difference between the displacements of an edge's two ends, in scene units; 0 if there is no
    face.

    A displacement is the offset of a vertex from the mean of its positions in the previous and the next frame.
    """
    before, here, after = (context.frame(at) for at in (index - 1, index, index + 1))
    corners = here.corners
    if not len(corners.v):
        return 0.0
    with np.errstate(over="ignore", invalid="ignore"):
        off = here.positions - (before.positions + after.positions) / 2.0
        sides = off[corners.v] - off[corners.v[next_corner(corners)]]
        return float(np.median(np.linalg.norm(sides, axis=1)))


CHECK = Check(
    id="noisy-frame",
    title="Noise on single frames",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="On this frame, all vertices are displaced a little, each independently of its neighbours. The frames "
        "before and after are smooth.",
        after_import="The surface flickers for one frame: shading breaks up, and edges look ragged.",
        what_to_do="Export the frame again, or use the fix that replaces it with a blend of its neighbours. The usual "
        "cause is a bad frame in a scan or in a compressed cache.",
    ),
    run=run,
    fixes=("fill-frames",),
    scope=CheckScope.SEQUENCE,
    thresholds=(
        *(ROUGHNESS_LEFT, NOISE_LEAST, NOISE_MOST, NOISE_APART, NOISE_OF_POP, NOISE_POINTS, NOISE_ROUGHER),
        *(NOISE_ROUGHER_TOO, NOISE_OF_BUMP),
        *(JUMPS_OF_A_POSE_SET, JUMP_WINDOW),
    ),
    explained_by=("size-jump", "swapped-frames", "frozen", "dropped-frames", "vertex-order"),
)
