"""The input of a check: measured values, and frames that are read again to compare their arrays."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any, TypeVar, cast

from inspector.checks.base.face_change import FaceChange, face_change
from inspector.checks.base.material_fit import MaterialFit, material_fits
from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.rules.model import CheckRule
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.receipt_marks import ReceiptMarks
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.materials.resolver import FrameMaterials, MaterialResolver
from inspector.sequence.run.scan import load_file
from inspector.sequence.series import Series
from inspector.threshold import Threshold

_EVIDENCE_BYTES = 400_000_000
"""Maximum total size, in bytes, of the files whose frames are kept in memory for checks. A frame takes about two bytes
of memory per byte of its file.
"""

T = TypeVar("T")

_FRAMES_KEPT = 3  # the reference frame and two neighbours


@dataclass(frozen=True, slots=True)
class Measured:
    """Values that all checks of a run share.

    Attributes:
        frames: Frames that were read again, by index.
        materials: Libraries, materials and maps, by index of the frame.
        face_changes: Differences from the reference frame's faces, by digest of the topology.
        results: Results of the functions passed to `CheckContext.once`, by function.
    """

    frames: OrderedDict[int, Frame] = field(default_factory=OrderedDict)
    materials: dict[int, FrameMaterials] = field(default_factory=dict)
    face_changes: dict[bytes, FaceChange] = field(default_factory=dict)
    results: dict[Callable[[CheckContext], Any], Any] = field(default_factory=dict)


@dataclass(frozen=True)
class CheckContext:
    """The input of a check.

    Attributes:
        series: The sequence to check.
        settings: The facts that the user stated, and the delivery rules.
        resolver: Object that finds the files of libraries and maps.
        siblings: The other sequences of the folder.
        marks: The statements that the folder's receipt makes about the frames; empty without a receipt.
        thresholds: This check's values in the delivery rules, by name of the threshold.
        explained: Numbers of the frames that this check leaves out (see `Check.explained_by`).
        load: Function that reads the frame of a file.
        measured: Values measured so far in this run, for all checks.
    """

    series: Series
    settings: Settings
    resolver: MaterialResolver
    siblings: tuple[Series, ...] = ()
    marks: ReceiptMarks = field(default_factory=ReceiptMarks)
    thresholds: Mapping[str, float] = field(default_factory=dict)
    explained: frozenset[Fraction] = frozenset()
    load: Callable[[FrameFile], Frame] = load_file
    measured: Measured = field(default_factory=Measured, repr=False)

    def of_check(self, check: str, explained: Iterable[Fraction] = ()) -> CheckContext:
        """Return the context for one check, with the values that the delivery rules set for the check's thresholds.

        `explained` contains the numbers of the frames that the check leaves out (see `Check.explained_by`).
        """
        rule = self.settings.rules.checks.get(check, CheckRule())
        numbers = frozenset(explained)
        if not rule.thresholds and not numbers and not self.thresholds and not self.explained:
            return self
        return replace(self, thresholds=rule.thresholds, explained=numbers)

    def once(self, measure: Callable[[CheckContext], T]) -> T:
        """Return the result of `measure` for the sequence. The result is computed once per run for all checks.

        `measure` must be at the top level of a module. Its context has no thresholds from delivery rules, and no
        explained frames.
        """
        results = self.measured.results
        if measure not in results:
            results[measure] = measure(replace(self, thresholds={}, explained=frozenset()))
        return cast(T, results[measure])

    def unexplained(self, indices: Iterable[int]) -> list[int]:
        """Return the given indices, except those of frames in `explained`."""
        return [index for index in indices if self.series.facts[index].number not in self.explained]

    def limit(self, threshold: Threshold[float]) -> float:
        """Return the value of a threshold in the delivery rules, or its default if they set none."""
        return self.thresholds.get(threshold.name, threshold.value)

    def frame(self, index: int) -> Frame:
        """Return the frame at an index of `series.facts`. Its file is read again if necessary.

        Raises:
            MeshqcError: The file no longer exists or can't be read any more.
        """
        if index not in self.measured.frames:
            self._make_room(self.series.facts[index].file.size)
            file = self.series.facts[index].file
            self.measured.frames[index] = self.load(file)
        return self.measured.frames[index]

    def _make_room(self, size: int) -> None:
        """Drop frames other than the reference frame from memory until there is room for a frame of `size` bytes."""
        others = [key for key in self.measured.frames if key != self.series.reference_index]
        for key in others:
            held = sum(len(frame.data) for frame in self.measured.frames.values())
            if len(self.measured.frames) < _FRAMES_KEPT and held + size <= _EVIDENCE_BYTES:
                return
            del self.measured.frames[key]

    @property
    def reference_frame(self) -> Frame:
        """Return the reference frame.

        Raises:
            MeshqcError: There is no reference frame, or its file can't be read any more.
        """
        if self.series.reference_index is None:
            raise MeshqcError("no frame can be read")
        return self.frame(self.series.reference_index)

    def face_change(self, index: int) -> FaceChange:
        """Describe how a frame's faces differ from the reference frame's.

        The two frames must have the same number of vertices and the same number of faces.

        Raises:
            MeshqcError: The file of one of the two frames can't be read any more.
        """
        facts = self.series.facts[index]
        if facts.face_set == self.series.reference_facts.face_set:  # known without reading the frame again
            return FaceChange("reordered", facts.faces, 0)
        if facts.topology not in self.measured.face_changes:
            self.measured.face_changes[facts.topology] = face_change(self.reference_frame, self.frame(index))
        return self.measured.face_changes[facts.topology]

    @property
    def material_fits(self) -> dict[Name | None, MaterialFit]:
        """Return how a texture fits each material's surface in the reference frame. The key None is for faces without a
        material.

        Raises:
            MeshqcError: There is no reference frame, or its file can't be read any more.
        """
        return self.once(_reference_fits)

    def materials(self, index: int) -> FrameMaterials:
        """Return the libraries, materials and maps of the frame at an index, with the files that they refer to."""
        if index not in self.measured.materials:  # about twenty checks ask for every frame
            self.measured.materials[index] = self.resolver.of_frame(self.series.facts[index])
        return self.measured.materials[index]

    def numbers(self, indices: list[int]) -> tuple[Fraction, ...]:
        """Return the frame numbers at the given indices, without duplicates."""
        return tuple(dict.fromkeys(self.series.facts[index].number for index in indices))

    def file_name(self, index: int) -> Name:
        """Return the path of the file of the frame at an index, relative to the inspected folder."""
        return self.resolver.scope.relative(self.series.facts[index].file.path)


def _reference_fits(context: CheckContext) -> dict[Name | None, MaterialFit]:
    return material_fits(context.reference_frame)
