"""Read a mesh file of any format as a frame. Any format except OBJ is first converted to OBJ text.

Fixes and deliveries work on this text. Its lines are not lines of the file unless the file is OBJ, so code that reports
locations must check `Frame.format`.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import count
from pathlib import Path

import numpy as np

from inspector.formats.format import Beside, Content, Format
from inspector.formats.frame import Frame
from inspector.formats.mesh import Image, LeftOut, Mesh, few
from inspector.formats.problems import Place, Problem, UnreadableFrame
from inspector.formats.registry import by_ending, format_of
from inspector.formats.wavefront.compose import compose, compose_library, plain_name
from inspector.formats.wavefront.excerpt import Excerpt, excerpt
from inspector.formats.wavefront.reader import ObjReader as WavefrontReader
from inspector.names import Name

ReadFile = Callable[[Path], bytes]
"""A function that returns the bytes of a regular file, or raises OSError."""

_FRAME_NUMBER = re.compile(rb"(.*?)[._ -]*([0-9]+)\Z", re.DOTALL)


@dataclass(frozen=True, slots=True)
class SourceText:
    """A frame's file as OBJ text.

    Attributes:
        format: Format of the file.
        text: The file itself if it is OBJ, otherwise the text made from it.
        library: The materials inside the file as MTL text; b"" if there are none.
        images: The textures inside the file.
        left_out: The content that is in none of the other fields.
    """

    format: Format
    text: bytes
    library: bytes = b""
    images: tuple[Image, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True, slots=True)
class ParsedFile:
    """The content of a frame's file, before it is converted to OBJ text.

    Attributes:
        path: Path of the file.
        format: Format of the file.
        content: The mesh, or the bytes of an OBJ file.
    """

    path: Path
    format: Format
    content: Mesh | bytes = field(repr=False)

    def source_text(self) -> SourceText:
        """Convert the content to OBJ text; the text of an OBJ file stays as it is."""
        if isinstance(self.content, bytes):
            return SourceText(self.format, self.content)
        mesh = self.named(self.content)
        return self.with_text(mesh, compose(mesh, library_name(self.path)))

    def named(self, mesh: Mesh) -> Mesh:
        """Return a copy of a mesh. The copy's materials and textures have distinct names that can be written in OBJ and
        MTL files.
        """
        return LibraryNames(self.path).applied(mesh)

    def with_text(self, mesh: Mesh, text: bytes) -> SourceText:
        """Combine the text of the mesh with the other content of the file.

        Args:
            mesh: The mesh that `named` returned.
            text: The mesh as OBJ text.
        """
        inside = [one.image for material in mesh.materials for one in material.maps if one.image.data is not None]
        images = tuple({image.name: image for image in inside}.values())
        return SourceText(self.format, text, compose_library(mesh.materials), images, few(mesh.left_out))


def parse_file(data: Content, path: Path, read_file: ReadFile) -> ParsedFile:
    """Read the mesh of a file. The content of an OBJ file is returned unparsed.

    Args:
        data: Content of the file.
        path: Path of the file. Its extension helps to determine the format. Referenced files are looked up in its
            folder.
        read_file: Reads referenced files.

    Raises:
        UnreadableFrame: The file as a whole can't be read as a frame.
    """
    form = format_of(data, os.fsencode(path.suffix))
    if form.read is None:
        return ParsedFile(path, form, data[:])
    try:
        with np.errstate(all="ignore"):  # bad numbers are reported when the text is read
            return ParsedFile(path, form, form.read(data, _beside(path, read_file)))
    except UnreadableFrame as error:
        raise error.without_line() from error


@dataclass(slots=True)
class FrameReader:
    """Reads the frames of one sequence, one after the other. The order affects only the speed, not the result."""

    _reader: WavefrontReader = field(default_factory=WavefrontReader)
    _excerpt: Excerpt | None = None

    def fork(self) -> FrameReader:
        """Make a second reader that shares the last frame read; the two can run in separate threads."""
        return FrameReader(self._reader.fork(), self._excerpt)

    def read(self, data: bytes, path: Path, read_file: ReadFile) -> Frame:
        """Read a frame. The arguments are those of `parse_file`.

        Raises:
            UnreadableFrame: The file as a whole can't be read as a frame.
        """
        source = parse_file(data, path, read_file).source_text()
        return _completed(self._reader.read(source.text), path, source)

    def read_to_measure(self, file: ParsedFile) -> Frame:
        """Read a frame, for measuring only, from a parsed file.

        The frame can't be written, because its `data` and `blocks` may belong to an excerpt of the text.

        Raises:
            UnreadableFrame: The file as a whole can't be read as a frame.
        """
        if isinstance(file.content, Mesh):
            mesh = file.named(file.content)
            self._excerpt = excerpt(mesh, library_name(file.path), self._reader.last, self._excerpt)
            if self._excerpt is not None:
                frame = self._excerpt.frame
                self._reader = WavefrontReader.after(frame)
                return _completed(frame, file.path, file.with_text(mesh, frame.data))
        source = file.source_text()
        return _completed(self._reader.read(source.text), file.path, source)


def _completed(frame: Frame, path: Path, source: SourceText) -> Frame:
    """Complete a frame that was made from OBJ text: add properties of the source file, such as its format."""
    named = by_ending().get(os.fsencode(path.suffix).lower())
    problems = frame.problems
    if named is not None and named is not source.format:
        problems += (Problem("other-format", 1, (Place(1, None, Name(source.format.title.encode())),)),)
    for seen, kind in ((False, "left-out"), (True, "left-out-seen")):
        places = tuple(Place(0, None, Name(one.what.encode())) for one in source.left_out if one.seen is seen)
        problems += (Problem(kind, len(places), places),) if places else ()
    if source.format.read is None and problems is frame.problems:
        return frame
    return replace(
        frame,
        format=source.format.id,
        problems=problems,
        library=source.library,
        images=tuple(image.name for image in source.images),
        image_digest=_image_digest(source.images),
    )


def _image_digest(images: Sequence[Image]) -> bytes:
    digest = hashlib.blake2b(digest_size=16)
    for image in images:
        data = image.data or b""
        digest.update(b"%d %d " % (len(image.name.raw), len(data)) + image.name.raw + data)
    return digest.digest() if images else b""


def source_text(data: bytes, path: Path, read_file: ReadFile) -> SourceText:
    """Convert a file to OBJ text. The arguments are those of `parse_file`.

    Raises:
        UnreadableFrame: The file as a whole can't be read as a frame.
    """
    return parse_file(data, path, read_file).source_text()


class LibraryNames:
    """Gives the materials and textures of one library distinct names that can be written in OBJ and MTL files. The same
    material or texture always gets the same name.
    """

    def __init__(self, path: Path) -> None:
        """Begin without any names.

        Args:
            path: Path of the mesh file, from which the names of embedded and tiled textures are derived.
        """
        self._prefix = b"textures/" + library_name(path).raw.removesuffix(b".mtl") + b"_"
        self._materials: dict[object, Name] = {}
        self._images: dict[object, Name] = {}

    def applied(self, mesh: Mesh) -> Mesh:
        """Return a copy of the mesh with distinct names for its materials and textures."""
        materials = tuple(
            replace(
                material,
                name=self._material(material.name),
                maps=tuple(replace(one, image=self._image(one.image)) for one in material.maps),
            )
            for material in mesh.materials
        )
        parts = tuple(
            part if part.material is None else replace(part, material=self._material(part.material))
            for part in mesh.parts
        )
        return replace(mesh, parts=parts, materials=materials)

    def _material(self, name: Name) -> Name:
        return _unlike(self._materials, name, plain_name(name))

    def _image(self, image: Image) -> Image:
        """Give an embedded or tiled texture a name like that of a separate file; other textures keep their names."""
        if image.data is None and not image.tiles:
            return image
        wanted = self._prefix + plain_name(image.name)
        return replace(image, name=_unlike(self._images, image, wanted))


def _unlike(known: dict[object, Name], key: object, wanted: bytes) -> Name:
    """Return the unique name of a key. The name is chosen on the first call with the key.

    The name is `wanted`. If another key already has this name, in any letter case, a number is inserted before the file
    name extension.
    """
    if key not in known:
        taken = {name.raw.lower() for name in known.values()}
        stem, dot, ending = wanted.rpartition(b".") if b"." in wanted else (wanted, b"", b"")
        names = (stem + (b"_%d" % number if number > 1 else b"") + dot + ending for number in count(1))
        known[key] = Name(next(name for name in names if name.lower() not in taken))
    return known[key]


def library_name(path: Path) -> Name:
    """Return the name of the library that all frames of a sequence share: manta.mtl for manta.0001.glb and
    manta.0001.5.glb, fish1.mtl for fish1.0001.glb.
    """
    stem = os.fsencode(path.stem)
    if last := _FRAME_NUMBER.fullmatch(stem):
        stem = last[1]
        whole = _FRAME_NUMBER.fullmatch(stem)
        if whole and len(whole[2]) > len(last[2]) and len(whole[1]) + len(whole[2]) < len(stem):
            stem = whole[1]
    return Name(plain_name(Name(stem or b"materials")) + b".mtl")


def _beside(path: Path, read_file: ReadFile) -> Beside:
    """Make a function that reads a referenced file if it is in the mesh file's folder or below it."""

    def read(uri: str) -> bytes:
        folder = path.parent
        try:
            target = Path(os.path.realpath(folder / uri))
        except ValueError:
            raise UnreadableFrame("part-outside", reason=uri) from None
        if not target.is_relative_to(folder):
            raise UnreadableFrame("part-outside", reason=f"{uri} is outside the frame's folder")
        try:
            return read_file(target)
        except OSError as error:
            raise UnreadableFrame("part-outside", reason=f"{uri}: {error.strerror}") from error

    return read
