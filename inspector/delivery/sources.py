"""The source's files as they are read: each one's digest is kept and compared in the end."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.formats.reading import source_text
from inspector.names import Name
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.scope import Scope


def sha256(data: bytes) -> str:
    """Hexadecimal SHA-256 (FIPS 180-4)."""
    return hashlib.sha256(data).hexdigest()


class Sources:
    """Reads source files. digests: path -> SHA-256 of what was read first."""

    def __init__(self, scope: Scope, inspected: Mapping[Path, bytes]) -> None:
        """scope: the folders that may be read; inspected: small files that were read whole at the inspection, as they
        were then."""
        self._scope = scope
        self.digests: dict[Path, str] = {}
        self._inspected = {path: sha256(data) for path, data in inspected.items()}

    def read(self, path: Path) -> bytes:
        """Raises MeshqcError if the file can't be read or is no longer what was read before."""
        try:
            data = self._scope.read(path)
        except OSError as error:
            raise MeshqcError(f"{Name.from_path(path)}: {error.strerror}") from error
        digest = sha256(data)
        if self._inspected.get(path, digest) != digest:
            raise _changed(path)
        if self.digests.setdefault(path, digest) != digest:
            raise MeshqcError(f"{Name.from_path(path)}: the source changed while it was being read")
        return data

    def frame_text(self, file: FrameFile) -> bytes:
        """A frame in OBJ's words. Raises MeshqcError as `read_frame` does, and where it can't be read."""
        return self.as_text(self.read_frame(file), file.path)

    def as_text(self, data: bytes, path: Path) -> bytes:
        """`data`, the content of `path`, in OBJ's words. Raises MeshqcError."""
        return source_text(data, path, self.read).text

    def read_frame(self, file: FrameFile) -> bytes:
        """The bytes of a frame. Raises MeshqcError also if it is not the file that was inspected."""
        try:
            status = file.place.stat()
        except OSError as error:
            raise MeshqcError(f"{Name.from_path(file.path)}: {error.strerror}") from error
        if (status.st_size, status.st_mtime_ns) != (file.size, file.mtime_ns):
            raise _changed(file.path)
        return self.read(file.path)


def _changed(path: Path) -> MeshqcError:
    return MeshqcError(f"{Name.from_path(path)}: changed since it was inspected; inspect the folder again")
