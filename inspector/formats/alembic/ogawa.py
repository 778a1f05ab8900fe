"""The container of an Alembic archive, which consists of groups and blocks of data.

All numbers except the version of the container are little-endian. A group is stored as the number of its children and
one word per child; a block, as its size in bytes and its bytes. A word is the offset of the child in the file, with the
highest bit set if the child is a block.
"""

from __future__ import annotations

import os
import struct
import weakref

from inspector.errors import MeshqcError
from inspector.names import counted

DATA = 1 << 63
"""The highest bit of a word. The bit is set if the word refers to a block of data, and clear if the word refers to a
group."""
FROZEN = 0xFF
"""Value of the byte after the signature if the writer has finished the file."""
SIGNATURE = b"Ogawa"
HEADER = struct.Struct("<5sBHQ")

_HDF5 = b"\x89HDF\r\n\x1a\n"
_POINTER = b"version https://git-lfs"
_STRUCTURE_FACTOR = 4
"""Maximum number of bytes that are read as structure (groups and headers), as a multiple of the file's size. A valid
file without shared headers needs at most 1."""
_STRUCTURE_MORE = 1 << 20
"""Number of bytes added to the maximum that `_STRUCTURE_FACTOR` gives, so that small files with a few shared headers
can be read. The number is low because each byte of headers can take 50 bytes of memory."""


class ArchiveError(MeshqcError):
    """An archive, an object or a sample can't be read. The message gives the cause in words for users."""


class Ogawa:
    """The container in an open file. Offsets, counts and sizes are compared with the file's size before they are used.

    The file is not memory-mapped, because the process would be killed (SIGBUS) if a mapped file were shortened.

    Attributes:
        size: Size of the file, in bytes.
        root: The word of the root group.
    """

    def __init__(self, descriptor: int) -> None:
        """Take over a file descriptor that is open for reading. It is closed when this object is destroyed.

        Raises:
            ArchiveError: The file is not a finished Ogawa archive, or its version is not supported.
            OSError: The file can't be read.
        """
        self._descriptor = descriptor
        self._close = weakref.finalize(self, os.close, descriptor)
        status = os.fstat(descriptor)
        self.size = status.st_size
        self._state = (status.st_size, status.st_mtime_ns)
        self._structure_left = _STRUCTURE_FACTOR * self.size + _STRUCTURE_MORE
        self.root = self._read_header()

    def _read_header(self) -> int:
        """Check the header, and return the word of the root group.

        Raises:
            ArchiveError: The file is not a finished Ogawa archive, or its version is not supported.
        """
        head = self._at(0, min(self.size, 64))
        if head.startswith(_HDF5):
            raise ArchiveError("the file uses Alembic's old HDF5 container; export it again with the Ogawa container")
        if head.startswith(_POINTER):
            raise ArchiveError("the file is only a version-control pointer to the actual file; fetch the actual file")
        if not head:
            raise ArchiveError("the file is empty")
        if not head.startswith(SIGNATURE):
            raise ArchiveError("the file is not an Alembic archive")
        if len(head) < HEADER.size:
            raise ArchiveError("the file is cut off: its header is incomplete")
        _, frozen, _, root = HEADER.unpack_from(head)
        if frozen != FROZEN:
            raise ArchiveError("the export is still running or was interrupted; wait, or export the file again")
        version = int.from_bytes(head[6:8], "big")
        if version != 1:
            raise ArchiveError(f"version {version} of the Ogawa container is not supported")
        if not HEADER.size <= root <= self.size - 8:
            raise ArchiveError("the file is damaged or cut off: its root group is outside the file's data")
        return int(root)

    def refuse_changed(self) -> None:
        """Check that the size and modification time of the file haven't changed since it was opened.

        Raises:
            ArchiveError: The file has changed, probably because an exporter is still writing it.
        """
        status = os.fstat(self._descriptor)
        if (status.st_size, status.st_mtime_ns) != self._state:
            raise ArchiveError("the file changed while it was being read, so it is probably still being written")

    def group(self, word: int) -> tuple[int, ...]:
        """Read the words of all children of a group.

        Raises:
            TooMuchStructure: The file refers to the same groups or headers too often.
            ArchiveError: `word` doesn't refer to a group, or the group has no children or extends beyond the end of the
                file.
        """
        start, count = self.group_at(word)
        data = self._structure(start, 8 * count)
        return struct.unpack(f"<{count}Q", data)

    def group_at(self, word: int) -> tuple[int, int]:
        """Locate the words of a group's children without reading them.

        Returns:
            Offset of the first word, and the number of words; (0, 0) if `word` is 0, as it is for an empty group.

        Raises:
            ArchiveError: `word` doesn't refer to a group, or the group has no children or extends beyond the end of the
                file.
        """
        if word & DATA:
            raise ArchiveError("a block of data is stored where a group is expected")
        if word == 0:
            return 0, 0
        count = self._length(word, "a group")
        if not 0 < count <= (self.size - word - 8) // 8:
            raise ArchiveError(f"a group has an impossible number of children ({count:,})")
        return word + 8, count

    def words(self, start: int, count: int) -> tuple[int, ...]:
        """Read the words that `group_at` located, or some of them.

        Args:
            start: Offset of the first word in the file.
            count: Number of words.

        Raises:
            ArchiveError: The file was shortened after it was opened.
        """
        return struct.unpack(f"<{count}Q", self._at(start, 8 * count))

    def block_at(self, word: int) -> tuple[int, int]:
        """Locate the bytes of a block without reading them.

        Returns:
            Offset of the first byte, and the number of bytes; (0, 0) for an empty block.

        Raises:
            ArchiveError: `word` doesn't refer to a block, or the block extends beyond the end of the file.
        """
        if not word & DATA:
            raise ArchiveError("a group is stored where a block of data is expected")
        offset = word & ~DATA
        if offset == 0:
            return 0, 0
        size = self._length(offset, "a block")
        if size > self.size - offset - 8:
            raise ArchiveError(f"a block of {counted(size, 'byte')} extends beyond the end of the file")
        return offset + 8, size

    def block(self, word: int) -> bytes:
        """Read a block that belongs to the structure of the file: headers, metadata or times.

        Raises:
            TooMuchStructure: The file refers to the same groups or headers too often.
            ArchiveError: `word` doesn't refer to a block, or the block extends beyond the end of the file.
        """
        return self._structure(*self.block_at(word))

    def read(self, start: int, size: int) -> bytes:
        """Read the bytes that `block_at` located, or some of them.

        Args:
            start: Offset of the first byte in the file.
            size: Number of bytes.

        Raises:
            ArchiveError: The file was shortened after it was opened.
        """
        return self._at(start, size)

    def _length(self, offset: int, what: str) -> int:
        if not HEADER.size <= offset <= self.size - 8:
            raise ArchiveError(f"{what} is beyond the end of the file")
        return int.from_bytes(self._at(offset, 8), "little")

    def _structure(self, start: int, size: int) -> bytes:
        """Read bytes of groups or headers.

        The total number of bytes that this method reads is limited, because a malicious file could refer to the same
        bytes repeatedly.

        Raises:
            TooMuchStructure: The limit is exceeded.
            ArchiveError: The file was shortened after it was opened.
        """
        self._structure_left -= size
        if self._structure_left < 0:
            raise TooMuchStructure("the file refers to the same groups or headers too often")
        return self._at(start, size)

    def _at(self, start: int, size: int) -> bytes:
        os.lseek(self._descriptor, start, os.SEEK_SET)
        pieces, left = [], size
        while left:
            piece = os.read(self._descriptor, left)
            if not piece:
                raise ArchiveError("the file became shorter while it was being read")
            pieces.append(piece)
            left -= len(piece)
        return pieces[0] if len(pieces) == 1 else b"".join(pieces)


class TooMuchStructure(ArchiveError):
    """Reading the structure of the file would take too long, so the whole file is refused."""
