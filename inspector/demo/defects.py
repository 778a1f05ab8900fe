"""The table of the defects planted in `manta_broken`, for the generator and the tests.

Frames 1 and 2 have no defect. The only defect of frame 24 is a second file for it. If a frame can't be read, or has a
wrong position or shape, the two frames before and the two frames after it have correct positions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from inspector.demo import plants
from inspector.demo.plants import Plant, edited

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Defect:
    """A planted defect.

    Attributes:
        name: Description of the defect, for people.
        frames: Numbers of the frames that have the defect.
        check: Id of the check that must find the defect on exactly these frames.
        severity: Severity of the finding.
        plant: Makes the files of a frame with the defect.
        companions: Ids of further checks that may report the same frames.
        reason: Why the companions may report these frames; "" if there are none.
    """

    name: str
    frames: tuple[int, ...]
    check: str
    severity: Severity
    plant: Plant
    companions: frozenset[str] = frozenset()
    reason: str = ""


DEFECTS: tuple[Defect, ...] = (
    Defect("no UVs", (3,), "no-uvs", "error", edited(plants.without_uvs)),
    Defect("a coordinate that is not a number", (4,), "bad-number", "error", plants.bad_number),
    Defect("UVs on some faces only", (5,), "partial-uvs", "error", edited(plants.uvs_in_part)),
    Defect("UV index out of range", (6,), "uv-index-range", "error", edited(plants.uv_beyond_end)),
    Defect("file cut off", (7,), "unreadable", "error", plants.cut_off),
    Defect("UV indices shifted by four", (8,), "uv-mismatch", "error", edited(plants.uvs_shifted)),
    Defect("UVs reassigned", (9,), "uv-mismatch", "error", edited(plants.uvs_reassigned)),
    Defect("frozen", (10,), "frozen", "warning", plants.frozen),
    Defect("different UV seam", (11,), "uv-mismatch", "error", edited(plants.other_seam)),
    Defect("UVs renumbered", (12,), "uv-mismatch", "note", edited(plants.uvs_renumbered)),
    Defect("moved aside", (13,), "centre-jump", "warning", edited(plants.moved_aside)),
    Defect("UV coordinates moved", (14,), "uv-values", "warning", edited(plants.uvs_moved)),
    Defect("library that doesn't exist", (15,), "library-missing", "error", edited(plants.library_gone)),
    Defect("enlarged by half", (16,), "size-jump", "warning", edited(plants.enlarged)),
    Defect("map name spelled differently", (17,), "texture-missing", "error", plants.map_misspelt),
    Defect("material that no library defines", (18,), "material-undefined", "warning",
           edited(plants.material_unknown)),
    Defect("file left out", (19,), "missing-frames", "error", plants.left_out),
    Defect("different division into faces", (20,), "changed-faces", "error", edited(plants.other_faces)),
    Defect("a face lost", (21,), "face-count", "error", edited(plants.face_lost)),
    Defect("vertex index out of range", (22,), "index-range", "error", edited(plants.vertex_beyond_end)),
    Defect("a stray vertex", (23,), "vertex-count", "error", edited(plants.stray_vertex)),
    Defect("the same frame twice", (24,), "repeated-frames", "warning", plants.twice),
)  # fmt: skip
