"""The libraries and textures that are delivered with the frames, and their paths in the delivered folder."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from inspector.checks.base.context import CheckContext
from inspector.errors import MeshqcError, Refusal
from inspector.formats.reading import library_name, source_text
from inspector.formats.wavefront.library import Library, MapLine, merge_libraries, read_library
from inspector.names import Name
from inspector.safe_open import read_place
from inspector.sequence.materials.references import Status, Target, resolve_map


@dataclass(frozen=True, slots=True)
class AssetFile:
    """A file that is delivered with the frames.

    Attributes:
        sources: Paths of the source files that the file is made from; empty if a fix made it from scratch.
        content: Bytes of the file; None if it is a copy of the first source.
    """

    sources: tuple[Path, ...]
    content: bytes | None = None


@dataclass(frozen=True, slots=True)
class TextureAsset:
    """The texture of one map in a library.

    Attributes:
        target: The file that the map leads to. For a texture inside a frame's file, this is the frame's file.
        place: Path of the texture, or of its first UV tile, in the delivered folder; None if the texture isn't
            delivered.
        content: Bytes of a texture that a fix made or that is inside a frame's file; otherwise None.
    """

    target: Target
    place: str | None = None
    content: bytes | None = field(default=None, repr=False)

    def files(self) -> Iterator[tuple[str, AssetFile]]:
        """Yield the delivered path and the content of each file that the map needs; nothing if the texture isn't
        delivered."""
        path = self.target.path
        if self.place is None or (self.content is None and path is None):
            return
        yield self.place, AssetFile(() if path is None else (path,), self.content)
        for tile in self.target.tiles:
            yield self.target.tile_place(self.place, tile), AssetFile((tile,))


@dataclass(frozen=True)
class LibraryAsset:
    """A library that is delivered with the frames.

    Attributes:
        library: Text and content of the library.
        sources: Paths of the source files that the library is made from; empty if a fix made it from scratch.
        textures: The texture of each map in `library.maps`, in the same order.
        made: True if a fix changed the library, or if the library was taken from inside frame files. In both cases, the
            library is not copied from a source file.
    """

    library: Library
    sources: tuple[Path, ...]
    textures: tuple[TextureAsset, ...]
    made: bool = False


@dataclass(frozen=True)
class Assets:
    """All libraries and textures that are delivered with the frames.

    Attributes:
        libraries: Libraries by their path in the delivered folder, with forward slashes. Undecodable bytes become
            surrogate escapes.
    """

    libraries: Mapping[str, LibraryAsset] = field(default_factory=dict)

    def edited(self, edit: Callable[[LibraryAsset, str], LibraryAsset]) -> Assets:
        """Return a copy in which every library is changed.

        Args:
            edit: Function that receives a library and its path, and returns the new library.
        """
        return Assets({place: edit(entry, place) for place, entry in self.libraries.items()})

    def files(self) -> dict[str, AssetFile]:
        """Return every file to deliver, by path. Libraries are rewritten to name the new paths of textures.

        Raises:
            Refusal: The path of a texture can't be written in a library.
        """
        files: dict[str, AssetFile] = {}
        for place, entry in self.libraries.items():
            content = rewritten(entry, place)
            as_read = len(entry.sources) == 1 and content == entry.library.data and not entry.made
            files[place] = AssetFile(entry.sources, None if as_read else content)
            for texture in entry.textures:
                files.update(texture.files())
        return files


def rewritten(entry: LibraryAsset, place: str) -> bytes:
    """Return the content of a library as it is delivered. A map's path is replaced if it doesn't lead to the delivered
    texture.

    Args:
        entry: The library and its textures.
        place: Path of the library in the delivered folder.

    Raises:
        Refusal: The path of a texture can't be written in the library.
    """
    folder = posixpath.dirname(place)
    names = {}
    for index, (line, texture) in enumerate(zip(entry.library.maps, entry.textures, strict=True)):
        if texture.place is None:
            continue
        wanted = texture.target.written_as(texture.place)
        if posixpath.normpath(posixpath.join(os.fsencode(folder), line.name.raw)) != wanted:
            names[index] = posixpath.relpath(wanted, os.fsencode(folder or "."))
    return entry.library.with_map_names(names).data


def output_path_of(path: Path, context: CheckContext) -> str | None:
    """Return the path that a source file gets in the delivered folder.

    Args:
        path: Path of the source file.
        context: The sequence.

    Returns:
        The path relative to the delivered folder. It is the same as the source file's path relative to the inspected
        folder. None if the source file is outside the inspected folder.
    """
    root = context.resolver.scope.roots[0]
    return path.relative_to(root).as_posix() if path.is_relative_to(root) else None


def is_misplaced(target: Target, context: CheckContext) -> bool:
    """Return whether a texture was found, but outside the inspected folder or not exactly at the path that the library
    states.

    Args:
        target: Target of a map. If several files fit, the texture doesn't count as found.
        context: The sequence.
    """
    if target.path is None or target.rivals:
        return False
    return target.status is not Status.FOUND or output_path_of(target.path, context) is None


def folder_of(context: CheckContext) -> str:
    """Return the path of the sequence's folder relative to the inspected folder; "" if the two folders are the same."""
    relative = os.fsdecode(context.series.sequence.relative.raw)
    return "" if relative == "." else Path(relative).as_posix()


def read_entry(path: Path, context: CheckContext) -> LibraryAsset | None:
    """Read a library of the source, and find the textures of its maps.

    A texture is delivered only if it is inside the inspected folder and exactly at the path that the library states.

    Args:
        path: Path of the library.
        context: The sequence.

    Returns:
        The library and its textures; None if the library can't be read.
    """
    library = context.resolver.library(path)
    if library is None:
        return None
    return LibraryAsset(library, (path,), tuple(_texture(line, path.parent, context) for line in library.maps))


def _texture(line: MapLine, folder: Path, context: CheckContext) -> TextureAsset:
    """Find the texture of a map. `folder` is the folder of the library."""
    frames, scope = context.series.sequence.folder, context.resolver.scope
    target = resolve_map(line.name, folder, frames, scope, followed=bool(line.after))
    found = target.status is Status.FOUND and target.path is not None
    return TextureAsset(target, output_path_of(target.path, context) if found and target.path else None)


def assets_of(context: CheckContext, indices: Iterable[int]) -> Assets:
    """Return the libraries that the given frames name, with their textures.

    A library is left out if it can't be read, is inside a frame's file or outside the inspected folder, or isn't
    exactly at the path that the frame states.

    Args:
        context: The sequence.
        indices: Indices of the frames.
    """
    libraries: dict[str, LibraryAsset] = {}
    for index in indices:
        for use in context.materials(index).libraries:
            path = use.target.path
            place = output_path_of(path, context) if path is not None and use.target.status is Status.FOUND else None
            if path is None or place is None or place in libraries or use.inside:
                continue
            entry = read_entry(path, context)
            if entry is not None:
                libraries[place] = entry
    return Assets(libraries)


def source_assets(context: CheckContext) -> Assets:
    """Return all libraries and textures of the source, unchanged.

    Raises:
        Refusal: Two frame files define a material in different ways, or contain different textures with the same name.
    """
    assets = assets_of(context, range(len(context.series.facts)))
    return Assets({**assets.libraries, **_from_inside(context)})


def _from_inside(context: CheckContext) -> dict[str, LibraryAsset]:
    """Make one library from all materials and textures inside frame files.

    Returns:
        Path of the library in the delivered folder -> the library. Empty if no frame file contains materials.

    Raises:
        Refusal: The files define a material in different ways, or contain different textures with the same name.
    """
    files: dict[tuple[bytes, bytes], Path] = {}
    for facts in context.series.facts:
        if facts.library:
            files.setdefault((facts.library, facts.image_digest), facts.file.path)
    if not files:
        return {}
    try:
        merged = read_library(merge_libraries([read_library(text) for text, _ in files]))
    except MeshqcError as conflict:
        raise Refusal(f"{conflict} The frames can't share one library.") from conflict
    images: dict[Name, TextureAsset] = {}
    for path in files.values():
        for image in source_text(context.resolver.scope.read(path), path, read_place).images:
            place = posixpath.join(folder_of(context), os.fsdecode(image.name.raw))
            known = images.setdefault(image.name, TextureAsset(Target(Status.FOUND, path), place, image.data))
            if known.content != image.data:
                raise Refusal(f"the texture {image.name} differs between frames; one file can't hold both versions")
    first = next(iter(files.values()))
    textures = tuple(images.get(line.name) or _texture(line, first.parent, context) for line in merged.maps)
    place = posixpath.join(folder_of(context), os.fsdecode(library_name(first).raw))
    return {place: LibraryAsset(merged, tuple(files.values()), textures, made=True)}


def free_path(folder: str, name: str, taken: Callable[[str], bool]) -> str:
    """Return a free path for a new file.

    The path is `folder/name`. If this path is taken, a number is inserted before the extension: 2, or the next free
    number.

    Args:
        folder: A path with forward slashes; "" for the root.
        name: The preferred file name.
        taken: Receives a path; returns whether another file has it.
    """
    stem, ending = posixpath.splitext(name)
    candidates = (posixpath.join(folder, f"{stem}{number}{ending}") for number in ("", *map(str, range(2, 10_000))))
    return next(place for place in candidates if not taken(place))
