"""All frames of a sequence as arrays over time, against one reference frame."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.errors import MeshqcError
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.motion_facts import sample_positions, sampled


@dataclass(frozen=True, eq=False)
class Series:
    """facts in the order of `sequence.files`; `reference_index` is an index into them, None if no frame is readable.

    The arrays have one row a frame, NaN where a frame has no box or no step.
    """

    sequence: FrameSequence
    facts: tuple[FrameFacts, ...]
    reference_index: int | None

    @cached_property
    def usable(self) -> npt.NDArray[np.bool_]:
        """(n,): frames that could be read whole and are not empty. Only these are compared with the reference."""
        whole = [facts.filled for facts in self.facts]
        return np.asarray(np.array(whole, bool) & ~self.cut_short)

    @cached_property
    def cut_short(self) -> npt.NDArray[np.bool_]:
        """(n,): frames that lack the final line end that the reference has, and elements with it.

        A file cut exactly behind a complete line reads well on its own; only its neighbours show the cut.
        """
        if self.reference_index is None or self.reference_facts.problem("no-final-newline"):
            return np.zeros(len(self.facts), bool)
        return np.array(
            [
                facts.problem("no-final-newline") is not None
                and (facts.vertices < self.reference_facts.vertices or facts.faces < self.reference_facts.faces)
                for facts in self.facts
            ],
            bool,
        )

    @cached_property
    def boxes(self) -> Floats:
        """(n, 2, 3), scene units: minimum and maximum."""
        none = (np.nan,) * 6
        return np.array([facts.box or none for facts in self.facts], float).reshape(-1, 2, 3)

    @cached_property
    def centres(self) -> Floats:
        """(n, 3), scene units: middle of the box."""
        return np.asarray(self.boxes[:, 0] / 2 + self.boxes[:, 1] / 2)

    @cached_property
    def diagonals(self) -> Floats:
        """(n,), scene units: length of the box's diagonal; NaN as well where it is beyond what a float64 holds."""
        with np.errstate(over="ignore"):
            lengths = np.linalg.norm(self.boxes[:, 1] - self.boxes[:, 0], axis=1)
        return np.where(np.isfinite(lengths), lengths, np.nan)

    @cached_property
    def times(self) -> Floats:
        """(n,), steps of the sequence: the frame numbers, counted in its step."""
        return np.array([float(facts.number / self.sequence.step) for facts in self.facts])

    @cached_property
    def drift(self) -> Floats:
        """(n, 3), scene units: centre against the reference's centre."""
        with np.errstate(over="ignore"):
            return self.centres - (np.nan if self.reference_index is None else self.centres[self.reference_index])

    @cached_property
    def size_ratio(self) -> Floats:
        """(n,): diagonal over the reference's diagonal; NaN where that is 0."""
        base = np.nan if self.reference_index is None else self.diagonals[self.reference_index]
        ratio: Floats = self.diagonals / (base if base > 0 else np.nan)
        return ratio

    @cached_property
    def follows(self) -> npt.NDArray[np.bool_]:
        """(n,): whether the frame file before is the one a step ahead. Over a gap in the numbers and for a repeated one
        the way since then says nothing about the pace."""
        one_step = self.sequence.step
        return np.array([False, *(after.number - before.number == one_step for before, after in pairwise(self.facts))])

    @cached_property
    def steps(self) -> Floats:
        """(n,), scene units: mean distance that a vertex moved since the frame file before; NaN where it doesn't follow
        on that (follows)."""
        steps = np.array([np.nan if facts.step is None else facts.step for facts in self.facts], float)
        steps[1:][~self.follows[1:]] = np.nan
        return steps

    @cached_property
    def samples(self) -> Floats:
        """(n, s, 3), scene units: places of the vertices that `motion_facts.sampled` chooses; NaN in frames that are
        not whole or have other faces than the reference. Read-only."""
        size = 0 if self.reference_index is None else len(sampled(self.reference_facts.vertices))
        places = np.full((len(self.facts), size, 3), np.nan)
        for index in np.flatnonzero(self.usable):
            facts = self.facts[index]
            if (facts.vertices, facts.topology) == (self.reference_facts.vertices, self.reference_facts.topology):
                places[index] = sample_positions(facts.sample)
        places.setflags(write=False)
        return places

    @property
    def reference_facts(self) -> FrameFacts:
        """Facts of the reference. Raises MeshqcError if no frame is readable."""
        if self.reference_index is None:
            raise MeshqcError(f"{self.sequence.pattern.display}: no frame can be read")
        return self.facts[self.reference_index]

    @property
    def reference_size(self) -> float:
        """Longest side of the reference's box, scene units; NaN without a box."""
        if self.reference_index is None:
            return float("nan")
        low, high = self.boxes[self.reference_index]
        with np.errstate(over="ignore"):
            return float((high - low).max())


def build_series(sequence: FrameSequence, facts: Sequence[FrameFacts], reference: Fraction | None = None) -> Series:
    """Facts -> series. `reference`: the number of the frame that the others are compared with; None chooses one.

    Raises MeshqcError where the chosen frame does not exist or can't be read.
    """
    if reference is None:
        return Series(sequence, tuple(facts), choose_reference(facts))
    for index, one in enumerate(facts):
        if one.number == reference and one.filled:
            return Series(sequence, tuple(facts), index)
    raise MeshqcError(
        f"{sequence.pattern.display}: no readable frame {frame_text(reference)} to compare the others with"
    )


_NARROWING: tuple[Callable[[FrameFacts], Hashable], ...] = (
    lambda facts: bool(facts.problems and (facts.problem("bad-number") or facts.problem("bad-uv"))),
    lambda facts: (facts.vertices, facts.topology),
    lambda facts: facts.uv_indices,
    lambda facts: facts.uv_values,
)


def choose_reference(facts: Sequence[FrameFacts]) -> int | None:
    """The earliest frame of the largest group of equal topology, so that one odd first frame doesn't blame all others.

    Within that group the same choice is made by UV indices, then by UV coordinates. None if no frame can be read, or
    all are empty.
    """
    left = [index for index, one in enumerate(facts) if one.filled]
    for trait in _NARROWING:
        if not left:
            return None
        sizes = Counter(trait(facts[index]) for index in left)
        # most_common keeps first-seen order among equals: of two groups of one size, the one that begins earlier.
        largest = sizes.most_common(1)[0][0]
        left = [index for index in left if trait(facts[index]) == largest]
    return left[0]
