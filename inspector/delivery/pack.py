"""Pack a delivery, further files, and the digests of all files into a ZIP file or a folder, and verify the package."""

from __future__ import annotations

import hashlib
import os
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from inspector.delivery.audit import Audit, audit, file_paths
from inspector.delivery.destination import parts_of
from inspector.delivery.journal import sha256
from inspector.delivery.open_folder import OpenFolder
from inspector.delivery.receipt import SUMS_NAME, sums_bytes
from inspector.delivery.staging_folder import Staging
from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.errors import Cancelled, MeshqcError, Refusal
from inspector.formats.animation import Take
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.names import Name
from inspector.safe_open import read_place
from inspector.sequence.discovery.animations import open_animation
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.scan import Cancel, never

_DATE = (1980, 1, 1, 0, 0, 0)
"""The date of every entry: the earliest that ZIP supports. It is fixed, so that packing the same delivery again gives
the same bytes."""

_STORED = (".png", ".jpg", ".jpeg", ".webp", ".gif", ".mp4", ".zip", ".usdz")
"""File name endings of compressed formats. Files with these endings are stored in the ZIP file as they are."""

Progress = Callable[[str, int, int], None]
"""Progress callback: receives the stage, the number of finished files or frames in this stage, and the total number."""


@dataclass(frozen=True, slots=True)
class Package:
    """A package that was written.

    Attributes:
        files: Number of files in the package.
        size: Size of the ZIP file, or of all files in the folder, in bytes.
        digest: SHA-256 of the ZIP file; None for a folder.
    """

    files: int
    size: int
    digest: str | None


def pack(
    out: Path,
    proven: Audit,
    place: Path,
    added: Mapping[str, bytes],
    progress: Progress,
    cancelled: Cancel = never,
) -> Package:
    """Write a package.

    Args:
        out: The delivered folder.
        proven: The result of an `audit` of that folder. Its `proven` must be true.
        place: Path of the package, with links resolved. If it ends in .zip, the package is a ZIP file; otherwise, a
            folder.
        added: Content of further files, by path in the package.
        progress: Called after each file of each stage.
        cancelled: Returns whether to stop.

    Raises:
        Refusal: Another run is writing this package, or its path has been taken in the meantime.
        MeshqcError: The delivery has changed, an entry of the ZIP file differs from its digest when it is read back, or
            the package can't be written.
        Cancelled: The work was stopped; the package was not created.
    """
    with Staging(place, "a package") as staging:
        try:
            staging.keep_only(set())  # removes what an interrupted run left
            return _packed(out, proven, staging, added, progress, cancelled)
        except OSError as error:
            raise MeshqcError(f"packing failed: {error.strerror}; {Name.from_path(place)} was not created") from error
        finally:
            with suppress(OSError):
                staging.discard()


@contextmanager
def frames_to_show(
    out: Path, proven: Audit, place: Path, progress: Progress, cancelled: Cancel = never
) -> Iterator[FolderInspection]:
    """Inspect the frames from which the pictures in a package are drawn.

    If the delivery consists of scene files, their frames are unpacked beside the package, and removed at the end.

    Args:
        out: The delivered folder.
        proven: The result of an `audit` of that folder.
        place: Path of the package.
        progress: Called after each frame that is unpacked.
        cancelled: Returns whether to stop.

    Yields:
        The inspection of the delivery or of the unpacked frames.

    Raises:
        MeshqcError: A scene file can't be read, or its frames can't be written.
        Cancelled: The work was stopped.
    """
    after = proven.after
    if after.inspections or not after.discovery.animations:
        yield after
        return
    with Staging(place.with_name(f"{place.name}.frames"), "frames of scene files") as staging:
        try:
            staging.keep_only(set())  # removes what an interrupted run left
            for path in after.discovery.animations:
                animation = open_animation(path)
                wanted = UnpackRequest(animation.frames, Take(z_up=animation.up == "z"), settings=after.settings)
                into = staging.files / path.relative_to(out.resolve()).with_suffix("")
                into.parent.mkdir(parents=True, exist_ok=True)
                unpack(path, animation, wanted, into, lambda at, of: progress("unpacking", at, of), cancelled)
            yield inspect_folder(staging.files, after.settings)
        except OSError as error:
            beside = Name.from_path(place)
            raise MeshqcError(
                f"the frames of {Name.from_path(out)} can't be unpacked beside {beside}: {error.strerror}"
            ) from error
        finally:
            with suppress(OSError):
                staging.discard()


def _packed(
    out: Path, proven: Audit, staging: Staging, added: Mapping[str, bytes], progress: Progress, cancelled: Cancel
) -> Package:
    whole, place = out.resolve(), staging.out
    delivered = file_paths(proven)
    top = staging.files / place.stem
    digests: dict[str, str] = {}
    with OpenFolder.at(staging.files) as holder, holder.inner(top.name, make=True) as folder:
        for number, path in enumerate(delivered, 1):
            if cancelled():
                raise Cancelled("stopped; the package was not created")
            content = read_place(whole.joinpath(*parts_of(path)))
            digests[f"{whole.name}/{path}"] = _put(folder, f"{whole.name}/{path}", content)
            progress("copying", number, len(delivered))
        for path, content in added.items():
            digests[path] = _put(folder, path, content)
        digests[SUMS_NAME] = _put(folder, SUMS_NAME, sums_bytes(sorted(digests.items())))
    again = audit(top / whole.name, Settings(), lambda done, of: progress("verifying", done, of))
    if not again.proven:
        raise MeshqcError(f"{Name.from_path(out)}: changed while it was being packed; the package was not created")
    staging.ours()
    if place.suffix.lower() == ".zip":
        draft = _zipped(top, digests, progress, cancelled)
        with draft.open("rb") as file:
            package = Package(len(digests), draft.stat().st_size, hashlib.file_digest(file, "sha256").hexdigest())
        _take(place, lambda: os.link(draft, place))
    else:
        package = Package(len(digests), sum((top / name).stat().st_size for name in digests), None)
        _take(place, lambda: top.rename(place))
    return package


def _take(place: Path, name: Callable[[], object]) -> None:
    """Call `name`, which renames or links the package to `place`.

    Raises:
        Refusal: The path has been taken in the meantime.
    """
    try:
        if os.path.lexists(place):
            raise FileExistsError
        name()
    except FileExistsError:
        raise Refusal(
            f"{Name.from_path(place)}: the name has been taken in the meantime; choose another name"
        ) from None


def _put(folder: OpenFolder, path: str, content: bytes) -> str:
    """Create a file and the subfolders in its path; return the SHA-256 of the file."""
    *above, name = parts_of(path)
    with ExitStack() as held:
        for part in above:
            folder = held.enter_context(folder.inner(part, make=True))
        folder.create(name, content)
    return sha256(content)


def _zipped(top: Path, digests: Mapping[str, str], progress: Progress, cancelled: Cancel) -> Path:
    """Write the files to a ZIP file beside their folder, compare each entry with its digest, and return the ZIP file's
    path.

    Source: PKWARE, .ZIP File Format Specification.

    Raises:
        MeshqcError: An entry differs from its digest.
        Cancelled: The work was stopped.
    """
    draft = top.with_name("package.zip")
    with zipfile.ZipFile(draft, "x") as archive:
        for number, name in enumerate(sorted(digests), 1):
            if cancelled():
                raise Cancelled("stopped; the package was not created")
            entry = zipfile.ZipInfo(f"{top.name}/{name}", _DATE)
            entry.external_attr = 0o100644 << 16
            stored = name.lower().endswith(_STORED)
            entry.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
            archive.writestr(entry, (top / name).read_bytes())
            progress("packing", number, len(digests))
    with zipfile.ZipFile(draft) as archive:
        for number, (name, digest) in enumerate(digests.items(), 1):
            if sha256(archive.read(f"{top.name}/{name}")) != digest:
                raise MeshqcError(
                    f"{Name.from_path(name)}: the copy in the package differs from the delivered file; "
                    "the package was not created"
                )
            progress("reading back", number, len(digests))
    return draft
