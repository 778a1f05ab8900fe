"""All frames of a sequence as arrays over time, compared with the reference frame."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from inspector.arrays import Flags, Floats
from inspector.errors import MeshqcError
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.motion_facts import relief_offsets, sample_positions, sampled
from inspector.threshold import Threshold

NUMBERING_KEPT = Threshold(
    "numbering-kept",
    0.25,
    "Maximum change in the distances between sampled vertices, as a share of the change that renumbering the vertices "
    "would cause. Up to this share, two frames with different faces count as having the same vertices in the same "
    "order. From one frame to the next, motion causes up to a tenth of that change, and very fast motion up to a "
    "third; a different mesh causes at least half of it.",
)
NUMBERING_LOST = Threshold(
    "numbering-lost",
    0.7,
    "Replaces `numbering-kept` if the vertices keep their numbers in most frames of a sequence. The value allows for a "
    "frame that is out of order: its pose can change the distances by up to two thirds of the change that renumbering "
    "would cause.",
)
NUMBERING_POINTS = Threshold(
    "numbering-points",
    12,
    "Two frames with different faces can count as having the same vertices in the same order only if at least this "
    "many vertices are sampled. The distances between fewer vertices may match by chance.",
    "vertices",
)


@dataclass(frozen=True, eq=False)
class Series:
    """A measured sequence. Its arrays have one row per frame file; unknown values are NaN.

    Attributes:
        sequence: The sequence.
        facts: Facts of the frames, in the order of `sequence.files`.
        reference_index: Index of the reference frame in `facts`; None if no frame is readable.
    """

    sequence: FrameSequence
    facts: tuple[FrameFacts, ...]
    reference_index: int | None

    @cached_property
    def usable(self) -> npt.NDArray[np.bool_]:
        """Whether each frame could be read, is not empty and is not cut short, (n,).

        Only these frames are compared with the reference frame.
        """
        whole = [facts.filled for facts in self.facts]
        return np.asarray(np.array(whole, bool) & ~self.cut_short)

    @cached_property
    def cut_short(self) -> npt.NDArray[np.bool_]:
        """Whether each frame ends too early, compared with the reference frame, (n,).

        Such a frame has fewer vertices or faces than the reference frame, and no final line ending although the
        reference frame has one. A frame with fewer vertices and no faces also ends too early if the reference frame has
        faces.
        """
        if self.reference_index is None:
            return np.zeros(len(self.facts), bool)
        base = self.reference_facts
        ended = base.problem("no-final-newline") is None

        def cut(facts: FrameFacts) -> bool:
            fewer_vertices, fewer_faces = facts.vertices < base.vertices, facts.faces < base.faces
            unended = ended and facts.problem("no-final-newline") is not None
            return facts.filled and (
                (fewer_vertices or fewer_faces) if unended else fewer_vertices and fewer_faces and facts.faces == 0
            )

        return np.array([cut(facts) for facts in self.facts], bool)

    @cached_property
    def boxes(self) -> Floats:
        """Bounding box of each frame: minimum and maximum, (n, 2, 3), in scene units."""
        none = (np.nan,) * 6
        return np.array([facts.box or none for facts in self.facts], float).reshape(-1, 2, 3)

    @cached_property
    def centres(self) -> Floats:
        """Centre of each frame's bounding box, (n, 3), in scene units."""
        return np.asarray(self.boxes[:, 0] / 2 + self.boxes[:, 1] / 2)

    @cached_property
    def diagonals(self) -> Floats:
        """Length of the diagonal of each frame's bounding box, (n,), in scene units; NaN if it is too large for
        float64."""
        with np.errstate(over="ignore"):
            lengths = np.linalg.norm(self.boxes[:, 1] - self.boxes[:, 0], axis=1)
        return np.where(np.isfinite(lengths), lengths, np.nan)

    @cached_property
    def times(self) -> Floats:
        """Frame numbers divided by the step of the sequence, (n,)."""
        return np.array([float(facts.number / self.sequence.step) for facts in self.facts])

    @cached_property
    def drift(self) -> Floats:
        """Centre of each frame's bounding box relative to that of the reference frame, (n, 3), in scene units."""
        with np.errstate(over="ignore"):
            return self.centres - (np.nan if self.reference_index is None else self.centres[self.reference_index])

    @cached_property
    def size_ratio(self) -> Floats:
        """Each frame's bounding-box diagonal divided by that of the reference frame, (n,); NaN if the latter is 0."""
        base = np.nan if self.reference_index is None else self.diagonals[self.reference_index]
        ratio: Floats = self.diagonals / (base if base > 0 else np.nan)
        return ratio

    @cached_property
    def follows(self) -> npt.NDArray[np.bool_]:
        """Whether the previous frame file is earlier by exactly one step of the sequence, (n,).

        Across a gap or a repeated number, the distance moved doesn't give the speed.
        """
        one_step = self.sequence.step
        return np.array([False, *(after.number - before.number == one_step for before, after in pairwise(self.facts))])

    @cached_property
    def steps(self) -> Floats:
        """Mean distance that a vertex has moved since the previous frame file, (n,), in scene units.

        NaN if the distance is not known, or if the previous file is not exactly one step earlier (`follows`).
        """
        steps = np.array([np.nan if facts.step is None else facts.step for facts in self.facts], float)
        steps[1:][~self.follows[1:]] = np.nan
        return steps

    @cached_property
    def samples(self) -> Floats:
        """Positions of the vertices that `motion_facts.sampled` chooses, (n, s, 3), in scene units, read-only.

        The positions are NaN in a frame that is not usable, or whose faces differ from those of the reference frame. If
        the faces of most frames differ from those of the reference frame, for example because each frame was
        triangulated separately, the positions are still known in frames whose vertices are numbered as in the reference
        frame.
        """
        followed = self._of_same_faces(lambda facts: sample_positions(facts.sample))
        if followed.shape[1] >= NUMBERING_POINTS.value and not _most_known(followed):
            followed.setflags(write=True)
            self._follow(followed, NUMBERING_KEPT.value)
            if _most_known(followed):
                self._follow(followed, NUMBERING_LOST.value)
            followed.setflags(write=False)
        return followed

    def _follow(self, followed: Floats, most: float) -> None:
        """Add the positions in frames whose vertices are numbered as in a frame that is already followed.

        Frames are visited in order, and then in reverse order. Each frame is compared with the most recently visited of
        the followed frames or, if no followed frame has been visited yet, with the reference frame.

        Args:
            followed: Positions, (n, s, 3), NaN in frames that aren't followed yet. Changed in place.
            most: Maximum `numbering_change` at which the vertices of two frames count as numbered in the same way.
        """
        forth, known = range(len(followed)), _known(followed)
        latest = followed[self.reference_index or 0]
        for index in (*forth, *reversed(forth)):
            facts = self.facts[index]
            if known[index]:
                latest = followed[index]
            elif self.usable[index] and facts.vertices == self.reference_facts.vertices:
                here = sample_positions(facts.sample)
                if numbering_change(latest, here) <= most:
                    followed[index], known[index], latest = here, True, here

    @cached_property
    def followed(self) -> Flags:
        """Whether the vertices of `samples` can be followed in each frame, (n,)."""
        return np.asarray(_known(self.samples) & (self.samples.shape[1] > 0))

    @cached_property
    def reliefs(self) -> Floats:
        """Offsets of the vertices of `samples` from the means of their neighbours, (n, s, 3), in scene units,
        read-only.

        They are NaN in a frame that is not usable, has no faces, or has different faces from the reference frame.
        """
        return self._of_same_faces(lambda facts: relief_offsets(facts.relief) if facts.relief else np.nan)

    def _of_same_faces(self, values: Callable[[FrameFacts], Floats | float]) -> Floats:
        """Return values of the sampled vertices, (n, s, 3), read-only. They are NaN in a frame that is not usable, or
        that has different faces from the reference frame."""
        size = 0 if self.reference_index is None else len(sampled(self.reference_facts.vertices))
        followed = np.full((len(self.facts), size, 3), np.nan)
        for index in np.flatnonzero(self.usable):
            facts = self.facts[index]
            if (facts.vertices, facts.topology) == (self.reference_facts.vertices, self.reference_facts.topology):
                followed[index] = values(facts)
        followed.setflags(write=False)
        return followed

    @property
    def reference_facts(self) -> FrameFacts:
        """Facts of the reference frame.

        Raises:
            MeshqcError: No frame is readable.
        """
        if self.reference_index is None:
            raise MeshqcError(f"{self.sequence.pattern.display}: no frame can be read")
        return self.facts[self.reference_index]

    @property
    def reference_size(self) -> float:
        """Length of the longest side of the reference frame's bounding box, in scene units; NaN without a box."""
        if self.reference_index is None:
            return float("nan")
        low, high = self.boxes[self.reference_index]
        with np.errstate(over="ignore"):
            return float((high - low).max())


def _known(followed: Floats) -> Flags:
    """Whether all positions of each frame are finite, (n, s, 3) -> (n,)."""
    return np.asarray(np.isfinite(followed).all(axis=(1, 2)))


def _most_known(followed: Floats) -> bool:
    return bool(2 * np.count_nonzero(_known(followed)) > len(followed))


def numbering_change(before: Floats, after: Floats) -> float:
    """Measure the change in the distances between points, (s, 3), divided by the change that renumbering would cause.

    Moving, turning, mirroring or scaling all points together has no effect.

    Returns:
        The quotient: about 0 for the same points in the same order, and about 1 for another order. NaN if it is not
        known.
    """
    ours, theirs, renumbered = (_distances(points) for points in (before, after, np.roll(after, len(after) // 2, 0)))
    with np.errstate(invalid="ignore", over="ignore"):
        changed, by_chance = (float(np.median(np.abs(other - ours))) for other in (theirs, renumbered))
    return changed / by_chance if by_chance > 0.0 else np.nan


def _distances(points: Floats) -> Floats:
    """Return the distances between all pairs of points, divided by the median distance, (s, 3) -> (s, s)."""
    with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
        away = np.linalg.norm(points[:, None] - points, axis=-1)
        return np.asarray(away / np.median(away))


def build_series(sequence: FrameSequence, facts: Sequence[FrameFacts], reference: Fraction | None = None) -> Series:
    """Make the series of a sequence from the facts of its frames.

    Args:
        sequence: The sequence.
        facts: Facts of the frames, in the order of `sequence.files`.
        reference: Number of the reference frame; None to let `choose_reference` choose it.

    Raises:
        MeshqcError: The frame `reference` does not exist, can't be read, or is empty.
    """
    if reference is None:
        return Series(sequence, tuple(facts), choose_reference(facts))
    for index, one in enumerate(facts):
        if one.number == reference and one.filled:
            return Series(sequence, tuple(facts), index)
    raise MeshqcError(
        f"{sequence.pattern.display}: reference frame {frame_text(reference)} doesn't exist, can't be read or is empty"
    )


_Trait = Callable[[FrameFacts], Hashable]


def choose_reference(facts: Sequence[FrameFacts]) -> int | None:
    """Return the index of the reference frame: the earliest frame of the largest group of frames with the same
    topology.

    First, the minority is dropped: the frames with bad numbers or, if most frames have bad numbers, the frames without
    bad numbers. If several groups share the largest size, the group with the most common names of objects, groups and
    materials is chosen. Of its frames, only those with the most common UV indices are kept and, of these, only those
    with the most common UV coordinates.

    Returns:
        The index; None if no frame can be read, or all frames are empty.
    """
    left = [index for index, one in enumerate(facts) if one.filled]

    def narrow(trait: _Trait) -> None:
        """Keep only the largest group of frames that have the same trait. If several groups share the largest size,
        keep all of them."""
        nonlocal left
        sizes = Counter(trait(facts[index]) for index in left)
        largest = max(sizes.values(), default=0)
        left = [index for index in left if sizes[trait(facts[index])] == largest]

    narrow(lambda one: bool(one.problems and (one.problem("bad-number") or one.problem("bad-uv"))))
    narrow(lambda one: (one.vertices, one.topology))
    if len({facts[index].topology for index in left}) > 1:
        narrow(lambda one: (one.objects, one.groups, one.materials))
        left = [index for index in left if facts[index].topology == facts[left[0]].topology]
    narrow(lambda one: one.uv_indices)
    narrow(lambda one: one.uv_values)
    return left[0] if left else None
