"""Writing an archive of any objects and properties. Samples are written when they are added, and equal samples only
once."""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Sequence
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

from inspector.formats.alembic.archive import HASHES, INLINE, LAYOUT_VERSION, STRING, TYPES, Metadata, Values
from inspector.formats.alembic.ogawa import DATA, FROZEN, HEADER, SIGNATURE
from inspector.formats.alembic.times import TimeSampling, times_block

LIBRARY = 10812
"""Version of the reference library whose layout is used."""

_MASK = (1 << 64) - 1
_MURMUR_BYTES = 1 << 16
"""Maximum size, in bytes, of samples that get the same key as in the reference library. Computing this key in Python
takes 0.1 s per MB, so larger samples get a BLAKE2b hash of the same length. Readers only require that equal samples
have equal keys.
"""


class ArchiveWriter:
    """Writes samples to the file as they are added, and the tree of objects at the end.

    Attributes:
        top: The object that contains all other objects.
    """

    def __init__(self, file: BinaryIO, metadata: Metadata, samplings: Sequence[TimeSampling] = ()) -> None:
        """Begin an archive.

        Args:
            file: An empty file, open for writing and seeking.
            metadata: Metadata of the archive.
            samplings: Time samplings with the indices 1, 2, ...; index 0 is reserved for constants. Their `largest` is
                raised as properties are written.
        """
        self._file = file
        self._metadata = metadata_text(metadata)
        self._samplings = [TimeSampling(1.0, (0.0,), 1), *samplings]
        self._indexed: dict[bytes, int] = {b"": 0}
        self._samples: dict[bytes, int] = {}
        self._at = file.write(bytes(HEADER.size))
        self.top = ObjectOut(self, "", {})

    def finish(self) -> None:
        """Write the tree of objects and the header, which completes the file."""
        top = self.top.finish()
        words = [
            self.block(struct.pack("<i", LAYOUT_VERSION)),
            self.block(struct.pack("<i", LIBRARY)),
            top,
            self.block(self._metadata),
            self.block(times_block(self._samplings)),
            self.block(b"".join(bytes([len(text)]) + text for text in [*self._indexed][1:])),
        ]
        root = self.group(words)
        self._file.seek(0)
        self._file.write(HEADER.pack(SIGNATURE, FROZEN, int.from_bytes(b"\0\1", "little"), root))

    def block(self, *pieces: bytes | memoryview) -> int:
        """Write a block.

        Args:
            pieces: The bytes of the block, in pieces.

        Returns:
            The word (see `ogawa`) of the block.
        """
        size = sum(map(len, pieces))
        if size == 0:
            return DATA
        word = DATA | self._at
        self._file.write(struct.pack("<Q", size))
        for piece in pieces:
            self._file.write(piece)
        self._at += 8 + size
        return word

    def group(self, words: Sequence[int]) -> int:
        """Write a group whose children have already been written.

        Args:
            words: The words (see `ogawa`) of the children.

        Returns:
            The word of the group.
        """
        if not words:
            return 0
        word = self._at
        self._at += self._file.write(struct.pack(f"<{len(words) + 1}Q", len(words), *words))
        return word

    def sample(self, data: bytes) -> int:
        """Write a sample, unless an equal sample has already been written.

        Args:
            data: The bytes of the sample's values.

        Returns:
            The word (see `ogawa`) of the sample's block.
        """
        key = key_of(data)
        known = key + struct.pack("<Q", len(data))
        if known not in self._samples:
            self._samples[known] = self.block(key, data)
        return self._samples[known]

    def metadata_index(self, metadata: Metadata) -> tuple[int, bytes]:
        """Find the index of metadata in the list that headers share. New metadata is added to the list if it fits.

        Returns:
            The index, and the bytes that follow it in a header: the encoded metadata if the index is INLINE, otherwise
            b"".
        """
        text = metadata_text(metadata)
        if text not in self._indexed and (len(text) > 255 or len(self._indexed) >= INLINE):
            return INLINE, text
        return self._indexed.setdefault(text, len(self._indexed)), b""

    def count(self, sampling: int, samples: int) -> None:
        """Record the number of samples of a property.

        Args:
            sampling: Index of the property's time sampling.
            samples: Number of the property's samples; 1 for a constant.
        """
        one = self._samplings[sampling]
        if samples > one.largest:
            self._samplings[sampling] = TimeSampling(one.period, one.times, samples)


class ObjectOut:
    """An object that is being written.

    Attributes:
        name: Name of the object.
        metadata: Key-value pairs. The value of `schema` is the kind of the object.
        properties: Properties of the object.
        children: The objects directly below.
    """

    def __init__(self, archive: ArchiveWriter, name: str, metadata: Metadata) -> None:
        self._archive = archive
        self.name, self.metadata = name, metadata
        self.properties = CompoundOut(archive)
        self.children: list[ObjectOut] = []

    def child(self, name: str, metadata: Metadata) -> ObjectOut:
        """Add a new object below this object, and return the new object.

        Args:
            name: Name of the new object.
            metadata: Key-value pairs. The value of `schema` is the kind of the object.
        """
        one = ObjectOut(self._archive, name, metadata)
        self.children.append(one)
        return one

    def finish(self) -> int:
        """Write the objects below this object, then this object.

        Returns:
            The word (see `ogawa`) of the object.
        """
        words, headers = [], b""
        for one in self.children:
            words.append(one.finish())
            name = one.name.encode("utf-8", "surrogateescape")
            index, inline = self._archive.metadata_index(one.metadata)
            headers += struct.pack("<I", len(name)) + name + bytes([index])
            headers += struct.pack("<I", len(inline)) + inline if index == INLINE else b""
        properties = self.properties.finish()
        return self._archive.group([properties, *words, self._archive.block(headers, bytes(HASHES))])


class CompoundOut:
    """A group of properties that is being written."""

    def __init__(self, archive: ArchiveWriter) -> None:
        self._archive = archive
        self._members: dict[str, tuple[Metadata, PropertyOut | CompoundOut]] = {}

    def compound(self, name: str, metadata: Metadata | None = None) -> CompoundOut:
        """Add a group of properties, and return the group.

        Args:
            name: Name of the group.
            metadata: Key-value pairs.
        """
        one = CompoundOut(self._archive)
        self._members[name] = metadata or {}, one
        return one

    def scalar(
        self, name: str, kind: str, extent: int = 1, metadata: Metadata | None = None, sampling: int = 0
    ) -> PropertyOut:
        """Add a property with one item per sample, and return the property.

        Args:
            name: Name of the property.
            kind: `text`, or a NumPy type without byte order, such as `f4`.
            extent: Number of values per item.
            metadata: Key-value pairs.
            sampling: Index of the property's time sampling.
        """
        return self._add(name, metadata, PropertyOut(self._archive, True, kind, extent, sampling))

    def array(
        self, name: str, kind: str, extent: int = 1, metadata: Metadata | None = None, sampling: int = 0
    ) -> PropertyOut:
        """Add a property with any number of items per sample, and return the property.

        The arguments are those of `scalar`.
        """
        return self._add(name, metadata, PropertyOut(self._archive, False, kind, extent, sampling))

    def _add(self, name: str, metadata: Metadata | None, one: PropertyOut) -> PropertyOut:
        self._members[name] = metadata or {}, one
        return one

    def finish(self) -> int:
        """Write the properties, then the group with their headers.

        Returns:
            The word (see `ogawa`) of the group.
        """
        words, headers = [], b""
        for name, (metadata, one) in self._members.items():
            words.append(one.finish())
            info, numbers = (0, ()) if isinstance(one, CompoundOut) else one.header()
            text = name.encode("utf-8", "surrogateescape")
            index, inline = self._archive.metadata_index(metadata)
            longest = max(len(text), len(inline), *numbers, 0)
            code = 0 if longest < 1 << 8 else 1 if longest < 1 << 16 else 2
            fields = [*numbers, len(text)]
            headers += struct.pack("<I", info | code << 2 | index << 20)
            headers += b"".join(number.to_bytes(1 << code, "little") for number in fields) + text
            headers += len(inline).to_bytes(1 << code, "little") + inline if index == INLINE else b""
        return self._archive.group([*words, self._archive.block(headers)] if words else [])


class PropertyOut:
    """A property whose samples are being written."""

    def __init__(self, archive: ArchiveWriter, scalar: bool, kind: str, extent: int, sampling: int) -> None:
        self._archive, self._scalar, self._extent, self._sampling = archive, scalar, extent, sampling
        self._type = STRING if kind == "text" else TYPES.index(np.dtype(kind))
        self._stored: list[tuple[int, int, int]] = []
        self._lengths: set[int] = set()
        self._samples = self._first = self._last = 0
        self._word: int | None = None
        self._before: object = None

    def add(self, values: Values | str | Sequence[str]) -> None:
        """Add one sample.

        Args:
            values: Numbers, (items, extent), or text. If this is the same object as in the previous call, it is assumed
                to be unchanged.
        """
        if values is self._before:
            self._samples += 1
            return
        self._before = values
        if self._type == STRING:
            strings = [values] if isinstance(values, str) else list(values)
            data = b"".join(str(one).encode("utf-8", "surrogateescape") + b"\0" for one in strings)
            items, shape = len(strings), len(strings)
        else:
            numbers = np.ascontiguousarray(values, TYPES[self._type])
            data, items, shape = numbers.tobytes(), numbers.size // self._extent, 0
        word = self._archive.sample(data) if data else DATA
        self._lengths.add(items)
        slot = (word, shape, items)
        before = self._stored[-1] if self._stored else None
        if slot != before:
            if before is not None:
                # Repetitions of a sample are stored only if a different sample follows.
                missing = self._samples - 1 - self._last if self._last else 0
                self._stored += [before] * missing
                self._last = self._samples
                self._first = self._first or self._samples
            self._stored.append(slot)
        self._samples += 1

    def finish(self) -> int:
        """Write the group of the samples, unless it has already been written.

        Returns:
            The word (see `ogawa`) of the group.
        """
        if self._word is None:
            words: list[int] = []
            for word, shape, _ in self._stored:
                if self._scalar:
                    words.append(word)
                else:
                    words += [word, self._archive.block(struct.pack("<Q", shape)) if self._type == STRING else DATA]
            self._word = self._archive.group(words)
            self._archive.count(self._sampling, 1 if self._last == 0 else self._samples)
        return self._word

    def header(self) -> tuple[int, tuple[int, ...]]:
        """Return the parts of the header that don't depend on names or metadata.

        Returns:
            The bit field, and the numbers after it: the number of samples; if needed, the indices of the first and the
            last changed sample; and, if needed, the index of the time sampling.
        """
        kind = 1 if self._scalar else 3 if self._lengths == {1} else 2
        info = kind | self._type << 4 | self._extent << 12
        numbers = [self._samples]
        if len(self._lengths) <= 1 and (self._scalar or self._extent == 1):
            info |= 0x400
        if self._last == 0:
            info |= 0x800
        elif (self._first, self._last) != (1, self._samples - 1):
            info |= 0x200
            numbers += [self._first, self._last]
        if self._sampling:
            info |= 0x100
            numbers.append(self._sampling)
        return info, tuple(numbers)


def metadata_text(metadata: Metadata) -> bytes:
    """Encode metadata as `key=value;key=value`, sorted by key. Semicolons in values become commas."""
    pairs = (f"{key}={value.replace(';', ',')}" for key, value in sorted(metadata.items()))
    return ";".join(pairs).encode("utf-8", "surrogateescape")


def key_of(data: bytes) -> bytes:
    """Compute the 16-byte key of a sample: MurmurHash3 x64-128 with seed 0 (A. Appleby, public domain) or, for more
    than `_MURMUR_BYTES` bytes, BLAKE2b."""
    if len(data) > _MURMUR_BYTES:
        return hashlib.blake2b(data, digest_size=16).digest()
    c1, c2 = np.uint64(0x87C37B91114253D5), np.uint64(0x4CF5AD432745937F)
    whole = len(data) // 16
    words = np.frombuffer(data + bytes(-len(data) % 16), "<u8").reshape(-1, 2)
    first = _rotated(words[:, 0] * c1, 31) * c2
    second = _rotated(words[:, 1] * c2, 33) * c1
    h1 = h2 = 0
    for k1, k2 in zip(first[:whole].tolist(), second[:whole].tolist(), strict=True):
        h1 ^= k1
        h1 = ((h1 << 27 | h1 >> 37) + h2) * 5 + 0x52DCE729 & _MASK
        h2 ^= k2
        h2 = ((h2 << 31 | h2 >> 33) + h1) * 5 + 0x38495AB5 & _MASK
    if whole < len(words):
        h1 ^= int(first[whole])
        h2 ^= int(second[whole])
    h1 ^= len(data)
    h2 ^= len(data)
    h1 = h1 + h2 & _MASK
    h2 = h2 + h1 & _MASK
    h1, h2 = _finished(h1), _finished(h2)
    h1 = h1 + h2 & _MASK
    h2 = h2 + h1 & _MASK
    return struct.pack("<QQ", h1, h2)


def _rotated(values: npt.NDArray[np.uint64], by: int) -> npt.NDArray[np.uint64]:
    rotated: npt.NDArray[np.uint64] = values << np.uint64(by) | values >> np.uint64(64 - by)
    return rotated


def _finished(value: int) -> int:
    value = (value ^ value >> 33) * 0xFF51AFD7ED558CCD & _MASK
    value = (value ^ value >> 33) * 0xC4CEB9FE1A85EC53 & _MASK
    return value ^ value >> 33
