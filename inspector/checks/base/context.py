"""All that a check may look at: measured values, and frames read again where two frames' arrays are needed."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from inspector import limits
from inspector.checks.base.face_change import FaceChange, face_change
from inspector.checks.base.material_fit import MaterialFit, material_fits
from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.sequence.discovery.receipt_marks import ReceiptMarks
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.materials.resolver import FrameMaterials, MaterialResolver
from inspector.sequence.run.scan import load_frame
from inspector.sequence.series import Series
from inspector.threshold import Threshold

_FRAMES_KEPT = 3  # the reference and two neighbours


@dataclass(frozen=True)
class CheckContext:
    """series: the sequence under the checks; siblings: the other sequences of the folder; marks: what a receipt in
    the folder says of its frames; thresholds: what the delivery rules set for the check that looks."""

    series: Series
    settings: Settings
    book: MaterialResolver
    siblings: tuple[Series, ...] = ()
    marks: ReceiptMarks = field(default_factory=ReceiptMarks)
    thresholds: Mapping[str, float] = field(default_factory=dict)
    _frames: OrderedDict[int, Frame] = field(default_factory=OrderedDict)
    _materials: dict[int, FrameMaterials] = field(default_factory=dict)
    _face_changes: dict[bytes, FaceChange] = field(default_factory=dict)

    def limit(self, threshold: Threshold[float] | str) -> float:
        """The value of a threshold, or what the delivery rules set in its place.

        Args:
            threshold: The threshold, or a name in limits.py for one that has not moved into its check yet.
        """
        if isinstance(threshold, str):
            return self.thresholds.get(threshold.lower().replace("_", "-"), getattr(limits, threshold))
        return self.thresholds.get(threshold.name, threshold.value)

    def frame(self, index: int) -> Frame:
        """The frame at an index of `series.facts`, read again if need be. Raises MeshqcError if it went away."""
        if index not in self._frames:
            self._make_room(self.series.facts[index].file.size)
            file = self.series.facts[index].file
            self._frames[index] = load_frame(file.path, file.place)
        return self._frames[index]

    def _make_room(self, size: int) -> None:
        """Let go of frames, the reference last, before one of `size` bytes is read."""
        others = [key for key in self._frames if key != self.series.reference_index]
        for key in others:
            held = sum(len(frame.data) for frame in self._frames.values())
            if len(self._frames) < _FRAMES_KEPT and held + size <= limits.EVIDENCE_BYTES:
                return
            del self._frames[key]

    @property
    def reference_frame(self) -> Frame:
        """The reference frame. Raises MeshqcError if there is none."""
        if self.series.reference_index is None:
            raise MeshqcError("no frame can be read")
        return self.frame(self.series.reference_index)

    def face_change(self, index: int) -> FaceChange:
        """How the faces at an index differ from the reference's; looked at once for each distinct state. The frame
        must have as many vertices and faces as the reference, and other faces. Raises MeshqcError as `frame` does."""
        facts = self.series.facts[index]
        if facts.face_set == self.series.reference_facts.face_set:  # known without reading the frame again
            return FaceChange("reordered", facts.faces, 0)
        if facts.topology not in self._face_changes:
            self._face_changes[facts.topology] = face_change(self.reference_frame, self.frame(index))
        return self._face_changes[facts.topology]

    @cached_property
    def material_fits(self) -> dict[Name | None, MaterialFit]:
        """How a texture lies on the surface of each material in the reference frame; measured once for all checks."""
        return material_fits(self.reference_frame)

    def materials(self, index: int) -> FrameMaterials:
        """Libraries, materials and maps of the frame at an index, resolved."""
        if index not in self._materials:  # a score of checks ask for every frame
            self._materials[index] = self.book.of_frame(self.series.facts[index])
        return self._materials[index]

    def numbers(self, indices: list[int]) -> tuple[Fraction, ...]:
        """Frame numbers of indices, each once."""
        return tuple(dict.fromkeys(self.series.facts[index].number for index in indices))

    def file_name(self, index: int) -> Name:
        """The frame's file relative to the inspected folder."""
        return self.book.scope.relative(self.series.facts[index].file.path)
