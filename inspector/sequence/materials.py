"""What the frames' material libraries and maps lead to, each file read once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from inspector.formats.frame import LibraryLine
from inspector.formats.wavefront.library import Library, MapLine, read_library
from inspector.names import Name
from inspector.sequence.facts import FrameFacts
from inspector.sequence.images import ImageBook
from inspector.sequence.references import Target, resolve_libraries, resolve_map
from inspector.sequence.scan import read_file
from inspector.sequence.scope import Scope


@dataclass(frozen=True, slots=True)
class LibraryUse:
    """A library that a frame names. `library` is None where the target was not found or could not be read."""

    line: LibraryLine
    name: Name
    target: Target
    library: Library | None


@dataclass(frozen=True, slots=True)
class MapUse:
    """A map of a material that the frame uses."""

    library: Name
    map: MapLine
    target: Target


@dataclass(frozen=True, slots=True)
class FrameMaterials:
    """defined: materials of all libraries found; undefined: materials that faces use and no library defines."""

    libraries: tuple[LibraryUse, ...]
    defined: tuple[Name, ...]
    undefined: tuple[Name, ...]
    maps: tuple[MapUse, ...]


class MaterialBook:
    """Resolves the references of frames inside a scope. Frames with the same lines in one folder share the answer."""

    def __init__(self, scope: Scope) -> None:
        self.scope = scope
        self.images = ImageBook()
        self._libraries: dict[Path, Library | None] = {}
        self._answers: dict[tuple[object, ...], FrameMaterials] = {}

    def of_frame(self, facts: FrameFacts) -> FrameMaterials:
        """Libraries, materials and maps of one frame."""
        folder = facts.file.path.parent
        key = (folder, facts.libraries, facts.materials)
        if key not in self._answers:
            self._answers[key] = self._resolve(facts, folder)
        return self._answers[key]

    def _resolve(self, facts: FrameFacts, folder: Path) -> FrameMaterials:
        uses = tuple(
            LibraryUse(line, name, target, self.library(target.path) if target.path else None)
            for line in facts.libraries
            for name, target in resolve_libraries(line.name, folder, self.scope)
        )
        defined = tuple(dict.fromkeys(name for use in uses if use.library for name in use.library.materials))
        maps: list[MapUse] = []
        for use in uses:
            if use.library is None or use.target.path is None:
                continue
            for line in use.library.maps:
                if line.material in facts.materials:
                    target = resolve_map(line.name, use.target.path.parent, folder, self.scope)
                    maps.append(MapUse(use.name, line, target))
        undefined = tuple(name for name in facts.materials if name not in defined)
        return FrameMaterials(uses, defined, undefined, tuple(maps))

    def library(self, path: Path) -> Library | None:
        """The library in a file inside the scope; None if it can't be read."""
        if path not in self._libraries:
            try:
                self._libraries[path] = read_library(read_file(path))
            except OSError:
                self._libraries[path] = None
        return self._libraries[path]

    def libraries(self) -> dict[Path, Library]:
        """All libraries that were read so far, as they were then."""
        return {path: library for path, library in self._libraries.items() if library is not None}
