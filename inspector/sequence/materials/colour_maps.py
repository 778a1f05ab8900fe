"""Read the colour maps and normal maps of a frame's materials as pixels."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from inspector.errors import MeshqcError
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.picture.canvas import Picture
from inspector.picture.image_files import read_picture
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.islands import face_materials

_COLOUR = b"map_kd"  # the statement of a material's colour map (format document, "Material texture map")

_NORMALS = b"norm"
_BUMPS = (b"bump", b"map_bump")  # often used for a normal map; the content shows whether (common practice, no source)


class MaterialMaps:
    """Reads the colour maps and normal maps of materials, each once. Missing or damaged maps are left out.

    Args:
        resolver: Finds the maps.
        longest: Maximum number of pixels along the longer side of a texture.
    """

    def __init__(self, resolver: MaterialResolver, longest: int) -> None:
        self._resolver = resolver
        self._longest = longest
        self._pictures: dict[Path, Picture | None] = {}

    def of(self, facts: FrameFacts, frame: Frame) -> tuple[list[Picture], npt.NDArray[np.int64]]:
        """Read the colour maps of a frame. Libraries and materials are taken from `frame` instead of `facts`, because a
        fix may have changed them.

        Returns:
            The pixels of each map, and the index of the map of each face, (f,); -1 for a face without a map.
        """
        facts = replace(facts, libraries=frame.libraries, materials=frame.materials)  # a fix may have changed them
        names, which = face_materials(frame)
        pictures: list[Picture] = []
        place = []
        for name in names:
            picture = None if name is None else self.colours(facts, name)
            place.append(-1 if picture is None else len(pictures))
            pictures += [] if picture is None else [picture]
        return pictures, np.array(place, np.int64)[which]

    def first(self, facts: FrameFacts, frame: Frame, material: Name | None) -> Picture | None:
        """Read the colour map of a material, (h, w, 3); None if there is none that can be read.

        Args:
            facts: Facts of the frame.
            frame: The frame.
            material: Name of the material; None for the first material of the frame that has a colour map.
        """
        wanted = frame.materials if material is None else (material,)
        return next((found for name in wanted if (found := self.colours(facts, name)) is not None), None)

    def colours(self, facts: FrameFacts, material: Name) -> Picture | None:
        """Read the colour map of a material, (h, w, 3); None if it has no colour map that can be read."""
        for use in self._resolver.of_frame(facts).maps:
            if use.map.material == material and use.map.statement.raw.lower() == _COLOUR and use.target.path:
                return self._read(use.target.path)
        return None

    def normals(self, facts: FrameFacts, material: Name) -> Picture | None:
        """Read the normal map of a material, (h, w, 3); None if it has no normal map that can be read."""
        for use in self._resolver.of_frame(facts).maps:
            keyword, path = use.map.statement.raw.lower(), use.target.path
            if use.map.material != material or path is None:
                continue
            if keyword == _NORMALS or (keyword in _BUMPS and self._resolver.images.of(path).looks_like_normals):
                return self._read(path)
        return None

    def _read(self, path: Path) -> Picture | None:
        if path not in self._pictures:
            self._pictures[path] = None
            with suppress(MeshqcError):  # the checks of textures report damaged files
                self._pictures[path] = read_picture(path, self._longest, self._resolver.scope.open)
        return self._pictures[path]
