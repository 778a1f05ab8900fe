"""Reading an archive as objects with properties. Samples are read only when they are needed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.formats.alembic.ogawa import DATA, ArchiveError, Ogawa, TooMuchStructure
from inspector.formats.alembic.times import TimeSampling, read_times
from inspector.names import safe

MAX_OBJECTS = 200_000
"""Maximum number of objects in an archive, including expanded instances. The largest scenes seen so far have about
10,000."""
MAX_DEPTH = 512
"""Maximum nesting depth of objects. Deeper objects are left out. All scenes seen so far have fewer than 30 levels."""
MAX_PATH = 1024
"""Maximum number of characters in an object's path. Without a limit, a small file of deeply nested objects with long
names could use up all memory."""

LAYOUT_VERSION = 0
OLDEST_LIBRARY = 9999
INLINE = 255
"""Value of the metadata index in a header if the header itself contains the metadata."""
HASHES = 32
"""Total size, in bytes, of the hashes that follow the headers of child objects. Readers ignore them."""
KEY = 16
"""Size, in bytes, of the hash that precedes the values of a sample. Readers don't check it."""

TYPES: tuple[np.dtype[Any], ...] = tuple(
    np.dtype(name) for name in ("?", "u1", "i1", "<u2", "<i2", "<u4", "<i4", "<u8", "<i8", "<f2", "<f4", "<f8")
)
"""NumPy dtypes of the value types 0 to 11. Types 12 and 13 are strings."""
STRING, WIDE_STRING = 12, 13

Metadata = Mapping[str, str]
Place = tuple[int, int]
"""Offset and size, in bytes, of a stored sample. Samples with the same `Place` are equal."""
Values = npt.NDArray[Any]

_PROBLEMS_KEPT = 20


def parse_metadata(text: bytes) -> Metadata:
    """Parse metadata of the form `key=value;key=value`, up to the first part without `=`. If a key is repeated, its
    first value counts.
    """
    found: dict[str, str] = {}
    for piece in text.decode("utf-8", "surrogateescape").split(";"):
        key, equals, value = piece.partition("=")
        if not equals:
            break
        found.setdefault(key, value)
    return MappingProxyType(found)


@dataclass(frozen=True, slots=True)
class Header:
    """The description of one property in an archive.

    Attributes:
        name: Name of the property inside its compound.
        kind: 0 for a compound, 1 for a scalar, 2 for an array, 3 for an array with one item in every sample.
        type: Number of the value type; see TYPES, STRING and WIDE_STRING.
        extent: Number of values per item, such as 3 for a point.
        samples: Number of samples. All samples before `first` are equal and are stored only once. The same is
            true of all samples from `last` on.
        first: Index of the first sample that differs from the previous sample; 0 if all samples are equal.
        last: Index of the last sample that differs from the previous sample; 0 if all samples are equal.
        sampling: Index of the time sampling.
        metadata: Key-value pairs.
        fault: The reason why the property can't be used; "" if it can be used.
    """

    name: str
    kind: int
    type: int = 0
    extent: int = 1
    samples: int = 0
    first: int = 0
    last: int = 0
    sampling: int = 0
    metadata: Metadata = field(default_factory=dict)
    fault: str = ""


class Property:
    """A scalar or array property."""

    def __init__(self, archive: Archive, header: Header, word: int) -> None:
        self.header = header
        self.sampling = archive.samplings[header.sampling]
        self._file = archive.file
        self._start, self._stored = self._file.group_at(word)

    @property
    def constant(self) -> bool:
        """Whether all samples are equal."""
        return self.header.samples <= 1 or self.header.first == 0 == self.header.last

    def place(self, index: int) -> Place:
        """Locate a sample in the file.

        Args:
            index: Index of the sample, from 0.

        Returns:
            Offset and size of its bytes, including the key (see KEY); (0, 0) for an empty array.

        Raises:
            ArchiveError: The sample is missing or damaged.
        """
        header = self.header
        if not 0 <= index < header.samples:
            raise ArchiveError(f"{safe(header.name)} has no sample {index + 1:,}")
        if header.first > header.last:
            raise ArchiveError(f"{safe(header.name)}: the first changed sample comes after the last changed sample")
        constant = header.first == 0 == header.last
        slot = 0 if constant or index < header.first else min(index, header.last) - header.first + 1
        per_slot = 1 if header.kind == 1 else 2
        if slot * per_slot >= self._stored:
            raise ArchiveError(f"{safe(header.name)}: sample {index + 1:,} is missing")
        start, size = self._file.block_at(self._file.words(self._start + 8 * slot * per_slot, 1)[0])
        if 0 < size < KEY:
            raise ArchiveError(f"{safe(header.name)}: a sample is smaller than its key ({size} of {KEY} bytes)")
        if header.kind == 1 and header.type < STRING and size != KEY + TYPES[header.type].itemsize * header.extent:
            raise ArchiveError(f"{safe(header.name)}: the size of a sample doesn't match its type")
        return start, size

    def items(self, index: int) -> int:
        """Count the items in a sample without reading them. The property must not contain strings.

        Args:
            index: Index of the sample, from 0.

        Raises:
            ArchiveError: The sample is missing or damaged.
        """
        size = self.place(index)[1]
        return self._items(size)

    def _items(self, size: int) -> int:
        if size == 0:
            return 0
        item = TYPES[self.header.type].itemsize * self.header.extent
        count, rest = divmod(size - KEY, item)
        if rest:
            raise ArchiveError(f"{safe(self.header.name)}: a sample ends in the middle of an item")
        return count

    def numbers(self, index: int) -> Values:
        """Read the values of a sample, (items, extent).

        Args:
            index: Index of the sample, from 0.

        Raises:
            ArchiveError: The property contains text, or the sample is missing or damaged.
        """
        if self.header.type >= STRING:
            raise ArchiveError(f"{safe(self.header.name)} contains text instead of numbers")
        start, size = self.place(index)
        count = self._items(size)
        kind = TYPES[self.header.type]
        if count == 0:
            return np.zeros((0, self.header.extent), kind)
        values = np.frombuffer(self._file.read(start + KEY, size - KEY), "u1" if kind == np.bool_ else kind)
        return (values != 0 if kind == np.bool_ else values).reshape(count, self.header.extent)

    def text(self, index: int) -> str:
        """Read the first string of a sample; "" if the sample is empty.

        Raises:
            ArchiveError: The property doesn't contain byte strings, or the sample is missing or damaged.
        """
        if self.header.type != STRING:
            raise ArchiveError(f"{safe(self.header.name)} doesn't contain text")
        start, size = self.place(index)
        data = self._file.read(start + KEY, size - KEY) if size else b""
        return data.partition(b"\0")[0].decode("utf-8", "surrogateescape")

    def strings(self, index: int) -> tuple[str, ...]:
        """Read all strings of a sample.

        Raises:
            ArchiveError: The property doesn't contain text, or the sample is missing or damaged.
        """
        if self.header.type not in (STRING, WIDE_STRING):
            raise ArchiveError(f"{safe(self.header.name)} doesn't contain text")
        start, size = self.place(index)
        data = self._file.read(start + KEY, size - KEY) if size else b""
        if self.header.type == STRING:
            return tuple(part.decode("utf-8", "surrogateescape") for part in data.split(b"\0")[:-1])
        if len(data) % 4:
            raise ArchiveError(f"{safe(self.header.name)}: a sample ends in the middle of a character")
        try:
            return tuple(data.decode("utf-32-le").split("\0")[:-1])
        except UnicodeDecodeError:
            raise ArchiveError(f"{safe(self.header.name)}: the text is not valid UTF-32") from None


class Compound:
    """A group of properties. Properties that can't be used are treated as missing.

    Attributes:
        headers: Descriptions of the properties, by name.
        faults: Reasons why properties can't be used, in words for users; only the first 20.
    """

    def __init__(self, archive: Archive, word: int) -> None:
        """Read the descriptions of the properties.

        Args:
            archive: The archive.
            word: The word (see `ogawa`) of the compound's group; 0 if the compound is empty.

        Raises:
            ArchiveError: The group is damaged or already in use, or it isn't clear where the next header begins.
        """
        self._archive = archive
        self.headers: dict[str, Header] = {}
        self.faults: list[str] = []
        self._numbers: dict[str, int] = {}
        self._found: dict[str, Property | Compound | None] = {}
        if word == 0:
            return
        archive.visit(word)
        *self._words, headers = archive.file.group(word)
        for number, header in enumerate(_property_headers(archive, archive.file.block(headers))):
            if number >= len(self._words):
                self.faults.append("the headers list more properties than the file stores")
                break
            fault = "another property has the same name" if header.name in self.headers else header.fault
            if fault:
                self._note(header.name, fault)
            if header.name not in self.headers:
                self.headers[header.name] = header
                self._numbers[header.name] = number

    def __contains__(self, name: str) -> bool:
        return name in self.headers

    def property(self, name: str) -> Property | None:
        """Return the scalar or array with the given name; None if it doesn't exist, has no samples or can't be used."""
        found = self._find(name)
        return found if isinstance(found, Property) else None

    def compound(self, name: str) -> Compound | None:
        """Return the compound with the given name; None if it doesn't exist or can't be used."""
        found = self._find(name)
        return found if isinstance(found, Compound) else None

    def _find(self, name: str) -> Property | Compound | None:
        if name not in self._found:  # failures are kept too, because a second visit would report the wrong cause
            self._found[name] = self._read(name)
        return self._found[name]

    def _read(self, name: str) -> Property | Compound | None:
        header = self.headers.get(name)
        if header is None or header.fault:
            return None
        word = self._words[self._numbers[name]]
        try:
            if header.kind == 0:
                return Compound(self._archive, word)
            return Property(self._archive, header, word) if header.samples else None
        except TooMuchStructure:
            raise
        except ArchiveError as error:
            self._note(name, str(error))
            return None

    def _note(self, name: str, fault: str) -> None:
        if len(self.faults) < _PROBLEMS_KEPT:
            self.faults.append(f"{safe(name[:MAX_PATH])}: {fault}")


class Object:
    """An object of the scene, such as a mesh or a transform.

    Attributes:
        name: Name of the object.
        path: Names of all objects from the top down to this object, each preceded by a slash; "/" for the top.
        metadata: Key-value pairs. The value of `schema` is the kind of the object.
        parent: The object directly above; None for the top.
        children: The objects directly below, in the order of the file.
        word: The word (see `ogawa`) of the group with the object's properties.
    """

    __slots__ = ("_archive", "_properties", "children", "metadata", "name", "parent", "path", "word")

    def __init__(self, archive: Archive, name: str, metadata: Metadata, parent: Object | None, word: int) -> None:
        self.name, self.metadata, self.parent = name, metadata, parent
        self.path: str = "/" if parent is None else f"{parent.path.rstrip('/')}/{name}"
        self.children: list[Object] = []
        self.word = word
        self._archive = archive
        self._properties: Compound | ArchiveError | None = None

    @property
    def schema(self) -> str:
        """The kind of the object; "" if the metadata doesn't state it."""
        return self.metadata.get("schema", "")

    @property
    def properties(self) -> Compound:
        """The properties of the object.

        Raises:
            ArchiveError: The group or the headers of the properties are damaged. Every access raises the same error.
        """
        if self._properties is None:
            try:
                self._properties = Compound(self._archive, self.word)
            except ArchiveError as error:
                self._properties = error
        if isinstance(self._properties, ArchiveError):
            raise self._properties
        return self._properties


class Archive:
    """An open archive.

    Attributes:
        file: The container.
        library: Version of the reference library that wrote the archive, such as 10812.
        metadata: Key-value pairs about the whole archive.
        samplings: The time samplings, by index.
        top: The object that contains all other objects.
        problems: Content that can't be read and was left out, in words for users; only the first 20 problems.
        left_out: Total number of problems, including those that are not in `problems`.
    """

    def __init__(self, descriptor: int) -> None:
        """Read the tree of objects without their properties.

        Args:
            descriptor: File descriptor that is open for reading. It is closed when the archive is destroyed.

        Raises:
            ArchiveError: The file as a whole can't be read.
            OSError: The storage failed.
        """
        self.file = Ogawa(descriptor)
        self.problems: list[str] = []
        self.left_out = 0
        self._visited: set[int] = set()
        root = self.file.group(self.file.root)
        if len(root) < 6 or root[2] & DATA or not all(root[child] & DATA for child in (0, 1, 3, 4, 5)):
            raise ArchiveError("the root of the file doesn't have the structure of an Alembic archive")
        layout, self.library = self._number(root[0]), self._number(root[1])
        if layout != LAYOUT_VERSION:
            raise ArchiveError(f"version {layout} of the archive layout is not supported")
        if self.library < OLDEST_LIBRARY:
            raise ArchiveError(
                f"the file was written by version {self.library} of the Alembic library, which is too old"
            )
        self.metadata = parse_metadata(self.file.block(root[3]))
        self.samplings: tuple[TimeSampling, ...] = read_times(self.file.block(root[4]))
        if not self.samplings:
            raise ArchiveError("the archive has no time samplings")
        self._indexed = _indexed_metadata(self.file.block(root[5]))
        self.top = self._walk(root[2])

    def objects(self) -> Iterator[Object]:
        """Yield all objects in the order of the file, parents before children."""
        pending = [self.top]
        while pending:
            one = pending.pop()
            yield one
            pending += reversed(one.children)

    @cached_property
    def by_path(self) -> Mapping[str, Object]:
        return {one.path: one for one in self.objects()}

    def visit(self, word: int) -> None:
        """Mark the group of an object or compound as used.

        Raises:
            ArchiveError: The group is already marked, so the file may refer back to itself.
        """
        if word in self._visited:
            raise ArchiveError("the group is used twice, so the file may refer back to itself")
        self._visited.add(word)

    def note(self, where: str, problem: str) -> None:
        """Record that content is left out.

        Args:
            where: Path of the object.
            problem: The reason, in words for users.
        """
        self.left_out += 1
        if len(self.problems) < _PROBLEMS_KEPT:
            self.problems.append(f"{safe(where[:MAX_PATH])}: {problem}")

    def indexed(self, index: int) -> Metadata | None:
        """Return the shared metadata with the given index; None if the index doesn't exist."""
        return self._indexed[index] if index < len(self._indexed) else None

    def _number(self, word: int) -> int:
        data = self.file.block(word)
        if len(data) != 4:
            raise ArchiveError("a version number of the archive is not 4 bytes long")
        return int.from_bytes(data, "little", signed=True)

    def _walk(self, word: int) -> Object:
        """Read the tree of objects, and return its top. Objects that can't be read are recorded as problems.

        Recursion is not used, because objects can be nested more deeply than Python's calls can be.

        Raises:
            ArchiveError: The top can't be read, or there are more than MAX_OBJECTS objects.
        """
        properties, headers = self._open(word)
        top = Object(self, "", MappingProxyType({}), None, properties)
        pending, count = [(top, headers, 1)], 0
        while pending:
            parent, words, depth = pending.pop()
            for name, metadata, child in self._children(parent, words):
                count += 1
                if count > MAX_OBJECTS:
                    raise TooMuchStructure(f"the archive has more than {MAX_OBJECTS:,} objects")
                path = f"{parent.path.rstrip('/')}/{name}"
                try:
                    if depth > MAX_DEPTH or len(path) > MAX_PATH:
                        raise ArchiveError(
                            f"it is nested more than {MAX_DEPTH} levels deep, or its path has more than "
                            f"{MAX_PATH:,} characters"
                        )
                    properties, below = self._open(child)
                except TooMuchStructure:
                    raise
                except ArchiveError as error:
                    self.note(path, str(error))
                    continue
                one = Object(self, name, metadata, parent, properties)
                parent.children.append(one)
                if len(below) > 1 or below[0] & ~DATA:
                    pending.append((one, below, depth + 1))
        return top

    def _open(self, word: int) -> tuple[int, tuple[int, ...]]:
        """Return the words (see `ogawa`) of an object's properties and of its children. The word of the children's
        headers comes last.

        Raises:
            ArchiveError: The group doesn't have the structure of an object, or is already used.
        """
        if word == 0:
            raise ArchiveError("the group of the object is empty")
        if not word & DATA:
            self.visit(word)
        first, *others = self.file.group(word)
        if first & DATA or not others or not others[-1] & DATA:
            raise ArchiveError("the group doesn't have the structure of an object")
        return first, tuple(others)

    def _children(self, parent: Object, words: tuple[int, ...]) -> Iterator[tuple[str, Metadata, int]]:
        """Yield the name, metadata and word of each child with a valid header. Other children are recorded as
        problems."""
        names: set[str] = set()
        try:
            block = self.file.block(words[-1])
            for number, (name, metadata, broken) in enumerate(_object_headers(self, block)):
                if number >= len(words) - 1:
                    raise ArchiveError("the headers list more children than the file stores")
                fault = "another object has the same path" if name in names else broken
                names.add(name)
                if fault:
                    self.note(f"{parent.path.rstrip('/')}/{name}", fault)
                else:
                    yield name, metadata, words[number]
        except TooMuchStructure:
            raise
        except ArchiveError as error:
            self.note(parent.path, str(error))


def _indexed_metadata(block: bytes) -> tuple[Metadata, ...]:
    """Parse the list of metadata to which headers refer by index. Index 0 means no metadata, and isn't stored.

    Raises:
        ArchiveError: The list is cut off or too long.
    """
    found = [parse_metadata(b"")]
    at = 0
    while at < len(block):
        size = block[at]
        if at + 1 + size > len(block) or len(found) > INLINE - 1:
            raise ArchiveError("the metadata list of the archive is cut off or too long")
        found.append(parse_metadata(block[at + 1 : at + 1 + size]))
        at += 1 + size
    return tuple(found)


class _Cursor:
    """Reads the fields of a block one after another. Each read raises ArchiveError if the block ends too early."""

    def __init__(self, block: bytes, what: str) -> None:
        self._block, self._what, self._at = block, what, 0

    def more(self) -> bool:
        return self._at < len(self._block)

    def number(self, width: int) -> int:
        return int.from_bytes(self.take(width), "little")

    def take(self, size: int) -> bytes:
        if size > len(self._block) - self._at:
            raise ArchiveError(f"the list of {self._what} is cut off")
        self._at += size
        return self._block[self._at - size : self._at]

    def name(self, width: int) -> str:
        size = self.number(width)
        if size == 0:
            raise ArchiveError(f"one of the {self._what} has no name")
        return self.take(size).decode("utf-8", "surrogateescape")


def _object_headers(archive: Archive, block: bytes) -> Iterator[tuple[str, Metadata, str]]:
    """Yield the name, metadata and fault of each child object. The fault is "" if the header is valid.

    Raises:
        ArchiveError: It isn't clear where the next header begins.
    """
    cursor = _Cursor(block[:-HASHES], "child objects")
    while cursor.more():
        name = cursor.name(4)
        index = cursor.number(1)
        metadata = parse_metadata(cursor.take(cursor.number(4))) if index == INLINE else archive.indexed(index)
        fault = "its metadata is missing" if metadata is None else ""
        if "/" in name or "\0" in name:
            fault = "the name contains a slash or a NUL character"
        yield name, metadata or {}, fault


def _property_headers(archive: Archive, block: bytes) -> Iterator[Header]:
    """Yield the descriptions of all properties in a compound. A faulty header affects only its own property.

    Raises:
        ArchiveError: It isn't clear where the next header begins.
    """
    cursor = _Cursor(block, "properties")
    while cursor.more():
        info = cursor.number(4)
        kind, width_code, value_type = info & 3, info >> 2 & 3, info >> 4 & 15
        extent, index = info >> 12 & 0xFF, info >> 20 & 0xFF
        if width_code == 3:
            raise ArchiveError("the header of a property has numbers of unknown width")
        width = 1 << width_code
        samples = first = last = sampling = 0
        if kind:
            samples = cursor.number(width)
            first, last = 1, max(samples - 1, 0)
            if info & 0x200:
                first, last = cursor.number(width), cursor.number(width)
            if info & 0x800 or samples <= 1:
                first = last = 0
            if info & 0x100:
                sampling = cursor.number(width)
        name = cursor.name(width)
        metadata = parse_metadata(cursor.take(cursor.number(width))) if index == INLINE else archive.indexed(index)
        fault = ""
        if "\0" in name or "/" in name:
            fault = "the name contains a slash or a NUL character"
        elif metadata is None:
            fault = "its metadata is missing"
        elif sampling >= len(archive.samplings):
            fault = f"time sampling {sampling} does not exist"
        elif kind and value_type > WIDE_STRING:
            fault = f"value type {value_type} does not exist"
        elif kind and extent == 0:
            fault = "its items have no values"
        yield Header(name, kind, value_type, extent, samples, first, last, sampling, metadata or {}, fault)
