"""Find the material libraries and the textures that frames use. Each library is read once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from inspector.formats.frame import LibraryLine
from inspector.formats.reading import library_name
from inspector.formats.wavefront.library import Library, MapLine, read_library
from inspector.names import Name
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.image_cache import ImageCache
from inspector.sequence.materials.references import Status, Target, resolve_libraries, resolve_map
from inspector.sequence.measure.facts import FrameFacts


@dataclass(frozen=True, slots=True)
class LibraryUse:
    """A library that a frame refers to.

    Attributes:
        line: The line that refers to the library.
        name: The name of the library on that line.
        target: The file that the name leads to; for a library inside the frame's file, the frame's file.
        library: The library; None if it wasn't found or can't be read.
        inside: Whether the library is inside the frame's file.
    """

    line: LibraryLine
    name: Name
    target: Target
    library: Library | None
    inside: bool = False


@dataclass(frozen=True, slots=True)
class MapUse:
    """A map of one of the materials that the frame uses.

    Attributes:
        library: Name of the library that contains the map statement.
        map: The map statement.
        target: The file that the statement leads to. The target has no path if the image is inside the frame's file.
        inside: For an image inside the frame's file, the path that identifies it in `ImageCache`; otherwise None.
    """

    library: Name
    map: MapLine
    target: Target
    inside: Path | None = None

    @property
    def place(self) -> Path | None:
        """The path that identifies the image in `ImageCache`; None if the image was not found."""
        return self.target.path or self.inside


@dataclass(frozen=True, slots=True)
class FrameMaterials:
    """The materials of a frame.

    Attributes:
        libraries: The libraries that the frame refers to, and any library inside its file.
        defined: Names of the materials of all libraries that were read.
        undefined: Names of materials that faces use but no library defines.
        maps: The maps of the materials that faces use.
    """

    libraries: tuple[LibraryUse, ...]
    defined: tuple[Name, ...]
    undefined: tuple[Name, ...]
    maps: tuple[MapUse, ...]


_INSIDE = Target(Status.FOUND)


class MaterialResolver:
    """Finds the libraries, materials and textures that frames refer to. Files outside the scope are not read.

    Frames in the same folder share a result if their references are equal.

    Attributes:
        scope: The folders that may be read.
        images: The images that maps lead to.
        as_read: Content of every library file that has been read, by path.
        unopened: The reason why a library file could not be read, by path.
    """

    def __init__(self, scope: Scope) -> None:
        self.scope = scope
        self.images = ImageCache(scope)
        self.as_read: dict[Path, bytes] = {}
        self.unopened: dict[Path, str] = {}
        self._libraries: dict[Path, Library | None] = {}
        self._answers: dict[tuple[object, ...], FrameMaterials] = {}

    def of_frame(self, facts: FrameFacts) -> FrameMaterials:
        """Resolve the libraries, materials and maps of one frame."""
        folder = facts.file.path.parent
        key = (folder, facts.libraries, facts.materials, facts.library, facts.images, facts.image_digest)
        if key not in self._answers:
            self._answers[key] = self._resolve(facts, folder)
        return self._answers[key]

    def _resolve(self, facts: FrameFacts, folder: Path) -> FrameMaterials:
        uses = tuple(
            LibraryUse(line, name, target, self.library(target.path) if target.path else None)
            for line in facts.libraries
            for name, target in resolve_libraries(line.name, folder, self.scope)
        )
        if facts.library:
            uses += (self._of_file(facts),)
        defined = dict.fromkeys(name for use in uses if use.library for name in use.library.materials)
        used, inner = set(facts.materials), set(facts.images)
        maps: list[MapUse] = []
        for use in uses:
            if use.library is None or use.target.path is None:
                continue
            for line in use.library.maps:
                if line.material in used:
                    inside = use.inside and line.name in inner
                    where = use.target.path.parent
                    if inside:
                        place = self.images.add_inside(facts.file.path, line.name)
                        maps.append(MapUse(use.name, line, _INSIDE, place))
                    else:
                        found = resolve_map(line.name, where, folder, self.scope, followed=bool(line.after))
                        maps.append(MapUse(use.name, line, found))
        undefined = tuple(name for name in facts.materials if name not in defined)
        return FrameMaterials(uses, tuple(defined), undefined, tuple(maps))

    def _of_file(self, facts: FrameFacts) -> LibraryUse:
        """Make a library of the materials inside a frame's file.

        The text of the library is written by this tool, so its lines are not locations in a file.
        """
        read = read_library(facts.library)
        library = replace(
            read,
            definitions=tuple(replace(one, line=0) for one in read.definitions),
            maps=tuple(replace(one, line=0) for one in read.maps),
        )
        name = library_name(facts.file.path)
        return LibraryUse(LibraryLine(name, 0), name, Target(Status.FOUND, facts.file.path), library, inside=True)

    def library(self, path: Path) -> Library | None:
        """Read the library in a file inside the scope; None if it can't be read."""
        if path not in self._libraries:
            try:
                self.as_read[path] = self.scope.read(path)
                self._libraries[path] = read_library(self.as_read[path])
            except OSError as error:
                self._libraries[path] = None
                self.unopened[path] = error.strerror or type(error).__name__
        return self._libraries[path]
