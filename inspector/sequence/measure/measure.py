"""Measure the facts of a frame.

Values that depend only on arrays shared with an earlier frame are copied, not computed again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple, TypedDict

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.arrays import Floats
from inspector.formats.element_lines import element_line, face_line
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.formats.problems import Place, Problem
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure import surface_facts, uv_facts
from inspector.sequence.measure.facts import Digest, FrameFacts
from inspector.sequence.measure.motion_facts import movement, sample, sample_relief
from inspector.sequence.measure.text_forms import (
    fixed_decimals,
    form_problems,
    header_words,
    line_end,
    repeated_corners,
)


class Known(NamedTuple):
    """A measured frame.

    Attributes:
        frame: The frame.
        facts: Its facts.
    """

    frame: Frame
    facts: FrameFacts


def measure(frame: Frame, file: FrameFile, before: Frame | None = None, known: Known | None = None) -> FrameFacts:
    """Measure a frame.

    Args:
        frame: The frame.
        file: The file that it was read from.
        before: The previous frame, from which the movement is measured; None for the first frame.
        known: A frame that was measured earlier; None if there is no such frame. Results that depend only on arrays
            that both frames share are copied.
    """
    moved = movement(frame, before)
    bare, first = _faces_without_uvs(frame)
    surface, faults = _surface(frame, known)
    alike = known is not None and uv_facts.same_layout(frame, known.frame)
    layout, uv_faults = uv_facts.uv_values(frame, known.facts if known is not None and alike else None)
    facts = FrameFacts(
        number=file.number,
        file=file,
        readable=True,
        problems=(
            *(*frame.problems, *form_problems(frame), *_repeated_corners(frame, known)),
            *_fault_problems(frame, [*faults, *uv_faults]),
        ),
        vertices=len(frame.positions),
        uvs=len(frame.uvs),
        normals=len(frame.normals),
        faces=frame.faces,
        faces_without_uvs=bare,
        first_face_without_uvs=first,
        box=None if frame.box is None else _six(frame.box),
        step=moved.step,
        still=moved.still,
        leap=moved.leap,
        tear=moved.tear,
        roughness=moved.roughness,
        bump=moved.bump,
        moments=moved.moments,
        sample=sample(frame),
        relief=sample_relief(frame),
        decimals=frame.source_decimals.get(b"v", 0),
        objects=frame.objects,
        materials=frame.materials,
        face_materials=surface_facts.face_materials(frame),
        libraries=frame.libraries,
        header=_header_digest(frame),
        line_end=line_end(frame),
        fixed_decimals=fixed_decimals(frame),
        groups=surface_facts.groups(frame),
        smoothing=surface_facts.smoothing(frame),
        format=frame.format,
        library=frame.library,
        images=frame.images,
        image_digest=frame.image_digest,
        colours=len(frame.colours) > 0,
        uv_step=uv_facts.uv_step(frame, before),
        **surface,
        **layout,
        **_digests(frame, known),
    )
    return facts if frame.format == "obj" else _without_lines(facts)


def _without_lines(facts: FrameFacts) -> FrameFacts:
    """Return the facts without line numbers and library references, which don't describe the file itself."""
    first = facts.first_face_without_uvs
    return replace(
        facts,
        libraries=(),
        first_face_without_uvs=first and replace(first, line=0),
        problems=tuple(
            replace(problem, places=tuple(replace(place, line=0) for place in problem.places))
            for problem in facts.problems
        ),
    )


def _surface(frame: Frame, known: Known | None) -> tuple[surface_facts.SurfaceValues, list[surface_facts.Fault]]:
    """Measure the surface. Values and faults that depend only on shared arrays are copied from the known frame."""
    if known is None or not same_faces(frame, known.frame) or len(known.frame.positions) != len(frame.positions):
        return surface_facts.surface_values(frame, None, None)
    shapes = known.facts if _same_shapes(frame, known.frame) else None
    return surface_facts.surface_values(frame, known.facts, shapes)


def _same_shapes(frame: Frame, before: Frame) -> bool:
    return (
        frame.positions is before.positions
        and frame.normals is before.normals
        and frame.corners.vn is before.corners.vn
    )


def _fault_problems(frame: Frame, faults: list[surface_facts.Fault]) -> list[Problem]:
    return [
        Problem(fault.kind, fault.count, tuple(_fault_place(frame, fault.kind, at) for at in fault.elements))
        for fault in faults
    ]


def _fault_place(frame: Frame, kind: str, element: int) -> Place:
    of_normal = kind in surface_facts.OF_NORMALS
    return Place(element_line(frame, b"vn", element) if of_normal else face_line(frame, element), element)


def _header_digest(frame: Frame) -> Digest:
    words = header_words(frame)
    return hashlib.blake2b(words, digest_size=16).digest() if words else b""


def _repeated_corners(frame: Frame, known: Known | None) -> Iterator[Problem]:
    """Yield the problem of faces that use a vertex more than once, if there are any. Only changed faces are
    examined."""
    if known is not None and same_faces(frame, known.frame):
        problem = known.facts.problem("repeated-corner")
        faces = [place.element or 0 for place in problem.places] if problem else []
        count = problem.count if problem else 0
    else:
        faces = repeated_corners(frame)
        count = len(faces)
    if faces:
        places = tuple(Place(face_line(frame, face), face) for face in faces[: limits.PLACES_KEPT])
        yield Problem("repeated-corner", count, places)


def same_faces(frame: Frame, before: Frame) -> bool:
    """Whether two frames share the array objects of their face sizes and vertex indices."""
    return frame.corners.v is before.corners.v and frame.corners.offsets is before.corners.offsets


def _six(box: Floats) -> tuple[float, float, float, float, float, float]:
    a, b, c, d, e, f = box.ravel().tolist()
    return a, b, c, d, e, f


def _faces_without_uvs(frame: Frame) -> tuple[int, Place | None]:
    """Count the faces with at least one corner that has no valid UV, and locate the first; 0 and None if there are
    none."""
    bare = frame.corners.vt == ABSENT
    if not bare.any():
        return 0, None
    faces = frame.corners.faces_with(bare)
    return len(faces), Place(face_line(frame, int(faces[0])), int(faces[0]))


class _Digests(TypedDict):
    topology: Digest
    uv_indices: Digest
    uv_values: Digest


def _digests(frame: Frame, known: Known | None) -> _Digests:
    """Return the digests of faces, UV indices and UVs. Digests of arrays shared with the known frame are copied."""
    corners = frame.corners
    old, facts = known if known is not None else (None, None)
    same_uv_indices = old is not None and corners.vt is old.corners.vt
    same_uvs = old is not None and frame.uvs is old.uvs
    return {
        "topology": facts.topology if old and facts and same_faces(frame, old) else _topology_digest(corners),
        "uv_indices": facts.uv_indices if facts and same_uv_indices else digest(corners.vt),
        "uv_values": facts.uv_values if facts and same_uvs else digest(frame.uvs),
    }


def _topology_digest(corners: Corners) -> Digest:
    sizes = corners.sizes
    return digest(sizes[:1] if (sizes == sizes[:1]).all() else sizes, corners.v)


def digest(*arrays: npt.NDArray[np.generic]) -> Digest:
    """Return a digest of the arrays' shapes and bytes: the first 16 bytes of their SHA-256 hash.

    SHA-256 is faster than BLAKE2b (measured).
    """
    whole = hashlib.sha256()
    for array in arrays:
        whole.update(repr(array.shape).encode())
        whole.update(np.ascontiguousarray(array).data)
    return whole.digest()[:16]
