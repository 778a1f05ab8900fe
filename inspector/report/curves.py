"""The quantities that are plotted over the frames, grouped into panels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.jumps import JUMP_DIAGONALS, JUMP_SIZE
from inspector.report.frame_rows import SequenceView
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import Series
from inspector.threshold import Threshold


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity that is measured on every frame file.

    Attributes:
        title: Name of the quantity.
        unit: Unit of the values; "" for counts.
        values: Computes the values of a sequence, (files,); NaN for a file without a value.
        form: Format specification of the numbers.
        limits: Computes the limits beyond which a check may report a frame; empty if there are no limits.
        checks: Ids of the checks that judge the quantity.
    """

    title: str
    unit: str
    values: Callable[[SequenceView], Floats]
    form: str = ".4g"
    limits: Callable[[SequenceView], tuple[float, ...]] = lambda _: ()
    checks: tuple[str, ...] = ()

    def by_row(self, view: SequenceView) -> Floats:
        """Return the value of each row of the view, (rows,); NaN for a row without a value."""
        by_file = self.values(view)
        return np.array([np.nan if row.at is None else by_file[row.at] for row in view.rows])

    def text(self, value: float) -> str:
        """Format a value, without its unit; `no value` if it is not finite."""
        return format(value, self.form) if np.isfinite(value) else "no value"


@dataclass(frozen=True, slots=True)
class Panel:
    """Curves that are shown together.

    Attributes:
        title: Title of the panel.
        curves: The quantities, one per line of the plot.
    """

    title: str
    curves: tuple[Quantity, ...]


def _of_series(values: Callable[[Series], Floats]) -> Callable[[SequenceView], Floats]:
    """Turn a function of a series into a function of a view. The new function returns NaN until the view has a
    series."""

    @np.errstate(over="ignore", invalid="ignore")  # values beyond the range of float64 become infinite
    def of_view(view: SequenceView) -> Floats:
        series = view.series
        return np.full(len(view.facts), np.nan) if series is None else values(series)

    return of_view


def _of_facts(value: Callable[[FrameFacts], float]) -> Callable[[SequenceView], Floats]:
    """Turn a function of one frame's facts into a function of a view. The new function returns NaN for unreadable
    frames."""

    def of_view(view: SequenceView) -> Floats:
        return np.array([value(one) if one.readable else np.nan for one in view.facts], float)

    return of_view


def _movement(series: Series) -> Floats:
    diagonal = np.nan if series.reference_index is None else series.diagonals[series.reference_index]
    return series.steps / (diagonal if diagonal > 0 else np.nan)


@np.errstate(over="ignore", invalid="ignore")
def centre_speed(series: Series) -> Floats:
    """Return the distance that the centre has moved since the previous frame file, in scene units, (files,).

    NaN if the distance isn't known, or if the gap to the previous frame number isn't the sequence's step.
    """
    moved = np.linalg.norm(np.diff(series.centres, axis=0, prepend=np.nan), axis=1)
    return np.where(series.follows, moved, np.nan)


@np.errstate(over="ignore", invalid="ignore")
def fastest_vertex(series: Series) -> Floats:
    """Return the distance that the fastest vertex has moved since the previous frame file, in scene units, (files,).

    NaN if the distance isn't known, or if the gap to the previous frame number isn't the sequence's step.
    """
    return np.where(series.follows, [_farthest(one) for one in series.facts], np.nan)


def _farthest(facts: FrameFacts) -> float:
    if facts.leap is None:
        return 0.0 if facts.still else np.nan
    return float(np.linalg.norm(facts.leap.displacement))


def _limit(view: SequenceView, check: str, threshold: Threshold[float]) -> float:
    """Return a check's threshold: the value in the delivery rules or, if they state none, the default."""
    return view.inspection.context.of_check(check).limit(threshold) if view.inspection else threshold.value


def _size_limits(view: SequenceView) -> tuple[float, ...]:
    """Return two limits: the median size divided by the threshold, and the median size multiplied by the threshold. If
    no size is known, the result is empty."""
    if view.series is None or not np.isfinite(view.series.size_ratio).any():
        return ()
    usual, limit = float(np.nanmedian(view.series.size_ratio)), _limit(view, "size-jump", JUMP_SIZE)
    return usual / limit, usual * limit


def _centre_limits(view: SequenceView) -> tuple[float, ...]:
    """Return one limit: the displacement of the centre, in scene units, above which a frame can be reported as a jump.
    Without a reference frame, the result is empty."""
    series = view.series
    if series is None or series.reference_index is None:
        return ()
    return (_limit(view, "centre-jump", JUMP_DIAGONALS) * float(series.diagonals[series.reference_index]),)


def _axis_of_centre(axis: int) -> Callable[[SequenceView], Floats]:
    return _of_series(lambda series: series.drift[:, axis])


def _side(axis: int) -> Callable[[SequenceView], Floats]:
    return _of_series(lambda series: series.boxes[:, 1, axis] - series.boxes[:, 0, axis])


def _file_size(view: SequenceView) -> Floats:
    return np.array([one.file.size / 1000.0 for one in view.facts])


def _written(view: SequenceView) -> Floats:
    """Return the modification time of each file, in seconds since the earliest modification time, (files,)."""
    times = np.array([one.file.mtime_ns for one in view.facts], np.int64)
    return np.asarray((times - (times.min() if len(times) else 0)) / 1e9)


_COUNT = ",.0f"
_ABSENT = ("missing-frames", "unreadable", "empty-frames", "still-written")
_PATH = (*_ABSENT, "centre-jump", "noisy-frame", "swapped-frames", "dropped-frames", "loop", "spike")
_SIZES = (*_ABSENT, "size-jump", "scale-suspect", "spike", "noisy-frame", "up-axis-suspect")
_MOTION = (*_PATH, "frozen", "pace-change", "pop", "jitter", "repeated-frames", "size-jump", "vertex-order")
_VERTICES = (*_ABSENT, "vertex-count", "unused-vertices", "mixed-exports")
_FACES = (*_ABSENT, "face-count", "changed-faces", "no-faces", "component-count", "mixed-exports")
_UVS = (*_ABSENT, "no-uvs", "partial-uvs", "uv-mismatch", "uv-numbers", "uv-index-range", "mixed-exports")
_NORMALS = (*_ABSENT, "missing-normals", "normal-count", "normal-index-range", "mixed-exports")
_FILES = (*_ABSENT, "file-size", "mixed-exports")
_TIMES = (*_ABSENT, "write-times", "leftover-frames", "still-written")
PANELS = (
    Panel(
        "drift, size and movement",
        (
            Quantity("drift of the centre", "diagonals", SequenceView.centre_distance, checks=_PATH),
            Quantity(
                "size",
                "reference = 1",
                _of_series(lambda series: series.size_ratio),
                limits=_size_limits,
                checks=_SIZES,
            ),
            Quantity("movement", "diagonals per frame", _of_series(_movement), checks=_MOTION),
        ),
    ),
    Panel(
        "centre by axis",
        tuple(
            Quantity(name, "units, relative to the reference frame", _axis_of_centre(axis), checks=_PATH)
            for axis, name in enumerate("xyz")
        ),
    ),
    Panel(
        "size by axis",
        tuple(Quantity(f"along {name}", "units", _side(axis), checks=_SIZES) for axis, name in enumerate("xyz")),
    ),
    Panel(
        "speed",
        (
            Quantity("all vertices, mean", "units per frame", _of_series(lambda series: series.steps), checks=_MOTION),
            Quantity("fastest vertex", "units per frame", _of_series(fastest_vertex), checks=_MOTION),
            Quantity("centre", "units per frame", _of_series(centre_speed), limits=_centre_limits, checks=_PATH),
        ),
    ),
    Panel(
        "counts",
        (
            Quantity("vertices", "", _of_facts(lambda facts: facts.vertices), _COUNT, checks=_VERTICES),
            Quantity("faces", "", _of_facts(lambda facts: facts.faces), _COUNT, checks=_FACES),
            Quantity("UVs", "", _of_facts(lambda facts: facts.uvs), _COUNT, checks=_UVS),
            Quantity("normals", "", _of_facts(lambda facts: facts.normals), _COUNT, checks=_NORMALS),
        ),
    ),
    Panel(
        "files",
        (
            Quantity("size", "KB", _file_size, ",.1f", checks=_FILES),
            Quantity("modified", "seconds after the earliest file", _written, ",.1f", checks=_TIMES),
        ),
    ),
)
"""The panels, in the order of their keys, 1 to 6."""
