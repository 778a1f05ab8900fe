"""Unpack a scene file into a folder of OBJ frames. The folder is checked before it gets its final name."""

from __future__ import annotations

import hashlib
import json
import os
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from inspector import __version__
from inspector.delivery.deliver import moved
from inspector.delivery.destination import new_place
from inspector.delivery.handoff import HANDOFF_NAME, unpacked_note_bytes
from inspector.delivery.journal import WrittenFile, sha256
from inspector.delivery.receipt import SUMS_NAME, left_of, receipt_bytes, sums_bytes, unpacked_receipt
from inspector.delivery.staging_folder import Staging, disk_error
from inspector.errors import Cancelled, MeshqcError
from inspector.formats.animation import Animation, Take
from inspector.formats.mesh import LeftOut, Material, Mesh, corners_of
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import LibraryNames, library_name
from inspector.formats.wavefront.compose import Composer, compose, compose_library, plain_name
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.names import Name, safe
from inspector.safe_open import open_scene
from inspector.sequence.discovery.numbering import grid_of, number_after
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.sequence.discovery.settings import Settings, frame_text
from inspector.sequence.run.scan import Cancel, never


@dataclass(frozen=True, slots=True)
class UnpackRequest:
    """The content of a scene file to unpack, and how to write it.

    Attributes:
        frames: Numbers of the frames.
        take: The meshes to unpack, and the constants that are applied to all frames.
        split: Whether each mesh becomes a separate sequence.
        shift: Number that is added to each frame number in the file names.
        settings: The frame rate, and the user's statements about the frames.
        about: Lines about the file's content and the constants, for the hand-off note.
        notes: Content that is left out of all frames.
    """

    frames: tuple[Fraction, ...]
    take: Take
    split: bool = False
    shift: Fraction = Fraction(0)
    settings: Settings = field(default_factory=Settings)
    about: tuple[str, ...] = ()
    notes: tuple[LeftOut, ...] = ()


@dataclass(frozen=True, slots=True)
class Unpacked:
    """The result of unpacking.

    Attributes:
        after: The inspection of the frames that were written.
        damaged: Numbers of the frames that can't be read and were left out, with the reasons.
        left_out: For each kind of content that was left out, the numbers of the frames that were written without it.
    """

    after: FolderInspection
    damaged: Mapping[Fraction, str]
    left_out: Mapping[LeftOut, Sequence[Fraction]]


_NOTHING = Mesh(np.zeros((0, 3)), corners_of(np.zeros(1, np.int64), np.zeros(0, np.int64)))
"""The mesh of a frame in which nothing is visible."""

_Counts = tuple[int, int, int]
"""Numbers of vertices, UVs and faces in a file that was written."""


def unpack(
    path: Path,
    animation: Animation,
    wanted: UnpackRequest,
    out: Path,
    progress: Callable[[int, int], None] = lambda _, __: None,
    cancelled: Cancel = never,
) -> Unpacked:
    """Write frames, their library and their textures to a folder, check the folder, and then rename it to `out`.

    If the work ends early, finished frames are kept beside `out`. The next call with the same arguments resumes the
    work.

    Args:
        path: The scene file.
        animation: The same file, opened.
        wanted: The selection to unpack.
        out: The folder to create.
        progress: Receives the number of frames done and the total.
        cancelled: Returns whether to stop.

    Raises:
        Refusal: `out` already exists or has an invalid name (such as `..`), or another run is writing to `out`.
        MeshqcError: Reading, writing or checking failed; `out` was not created.
        Cancelled: The work was stopped; `out` was not created.
    """
    state = path.stat()
    staging = Staging(new_place(out), _digest(path, state, wanted))
    try:
        with staging:
            staging.refuse_small_disk(_bytes_needed(animation, wanted))
            frames = _Frames(path, animation, wanted, staging)
            frames.write(progress, cancelled)
            staging.ours()
            source = (path.name, _file_digest(path))
            receipt = {
                **unpacked_receipt(wanted.settings, source, frames.files, frames.numbers()),
                "left_out": frames.losses(),
            }
            # The checks read the receipt: they report content that it lists as left out, and treat even frames that
            # differ much as one sequence.
            staging.put(RECEIPT_NAME, receipt_bytes(receipt))
            after = inspect_folder(staging.files, wanted.settings)
            _compare(frames.counts, after)
            if (path.stat().st_size, path.stat().st_mtime_ns) != (state.st_size, state.st_mtime_ns):
                raise MeshqcError(f"{safe(path.name)}: changed while it was being read; nothing was unpacked")
            _put_notes(wanted, receipt, frames, after, staging)
            staging.finish()
    except OSError as error:
        raise disk_error(error, staging) from error
    return Unpacked(moved(after, staging.out), frames.damaged, frames.left_out)


def _bytes_needed(animation: Animation, wanted: UnpackRequest) -> int:
    """Return a low estimate of the size of all frames, in bytes; 0 if the first frame can't be read.

    The estimate is half the first frame's size for each frame, because other frames may be smaller.
    """
    with suppress(MeshqcError):  # the error is reported when the frame is written
        return len(compose(animation.mesh(wanted.frames[0], wanted.take))) * len(wanted.frames) // 2
    return 0


def sequences_of(animation: Animation, wanted: UnpackRequest, stem: str) -> dict[str, Take]:
    """Choose the names of the sequences to write, and the meshes of each sequence.

    Args:
        animation: The opened file.
        wanted: The selection to unpack.
        stem: Name of the file without its ending.

    Returns:
        The selection of meshes for each sequence, by the sequence's name without a frame number.

    Raises:
        MeshqcError: A pattern matches no mesh.
    """
    for pattern in wanted.take.only:
        if not any(replace(wanted.take, only=(pattern,)).takes(one.path) for one in animation.meshes):
            raise MeshqcError(
                f"{safe(pattern)}: no mesh has this path, is below it, or matches it as a pattern; "
                "leave out --mesh to unpack all meshes"
            )
    if not wanted.split:
        return {stem: wanted.take}
    paths = [one.path for one in animation.meshes if wanted.take.takes(one.path) and not one.hidden]
    last = Counter(path.rpartition("/")[2] for path in paths)
    found: dict[str, Take] = {}
    for path in paths:
        name = path.rpartition("/")[2]
        short = name if last[name] == 1 else path.strip("/").replace("/", "_")
        plain = os.fsdecode(plain_name(Name(os.fsencode(short)))).replace("/", "_").replace(".", "_")
        found[f"{stem}_{plain}"] = replace(wanted.take, only=(path,))
    return found


def _gaps(animation: Animation, wanted: UnpackRequest) -> Iterator[Fraction]:
    """Yield the numbers of missing whole frames and, if sub-frames are unpacked, of missing sub-frames.

    A whole frame counts as missing only if it is between other whole frames, and a sub-frame only if it is between
    other sub-frames.
    """
    whole, parts = sorted(animation.frames), sorted(animation.sub_frames)
    if whole:
        yield from set(grid_of(whole).numbers(whole[0], whole[-1])).difference(whole)
    if parts and any(number.denominator > 1 for number in wanted.frames):
        inside = set(grid_of([*whole, *parts]).numbers(parts[0], parts[-1])).difference(parts)
        yield from (number for number in inside if number.denominator > 1)


def _digest(path: Path, state: os.stat_result, wanted: UnpackRequest) -> str:
    parts = [__version__, os.fspath(path), state.st_size, state.st_mtime_ns, asdict(wanted)]
    return sha256(json.dumps(parts, default=str).encode("ascii"))


def _file_digest(path: Path) -> str:
    """Return the SHA-256 of a file, which is read in pieces."""
    with os.fdopen(open_scene(path), "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class _Frames:
    """Writes the frames one after another, so that at most two are in memory.

    Attributes:
        files: The records of the files that were written.
        counts: Numbers of vertices, UVs and faces in each frame, by path.
        damaged: Numbers of the frames that can't be read and were left out, with the reasons.
        left_out: For each kind of content that was left out, the numbers of the frames that were written without it.
    """

    def __init__(self, path: Path, animation: Animation, wanted: UnpackRequest, staging: Staging) -> None:
        self._path, self._animation, self._wanted, self._staging = path, animation, wanted, staging
        animation.left_out.clear()  # forgets what was left out of frames that were read only to estimate their size
        self._sequences = sequences_of(animation, wanted, path.stem)
        self._composers = {name: Composer() for name in self._sequences}
        self._names = LibraryNames(path)
        self._materials: dict[Name, Material] = {}
        self.files: list[WrittenFile] = []
        self.counts: dict[str, _Counts] = {}
        self.damaged: dict[Fraction, str] = {}
        self.left_out: defaultdict[LeftOut, list[Fraction]] = defaultdict(list)
        self._files_without: defaultdict[LeftOut, list[str]] = defaultdict(list)
        self._empty: list[tuple[str, Fraction]] = []
        self._written: set[str] = set()

    def write(self, progress: Callable[[int, int], None], cancelled: Cancel) -> None:
        """Write all frames, their library and their textures.

        Raises:
            Cancelled: The work was stopped.
            MeshqcError: No frame can be unpacked.
            OSError: A file can't be written.
        """
        self._staging.keep_only(
            {self._place(name, number) for name in self._sequences for number in self._wanted.frames}
        )
        for done, number in enumerate(self._wanted.frames, 1):
            for name, take in self._sequences.items():
                if cancelled():
                    raise Cancelled("stopped, but finished files are kept; run the same command to resume")
                self._frame(name, take, number)
                for one in self._animation.left_out:
                    self._files_without[one].append(self._place(name, number))
                    if self.left_out[one][-1:] != [number]:
                        self.left_out[one].append(number)
                self._animation.left_out.clear()
            progress(done, len(self._wanted.frames))
        for name, number in self._empty:
            if name in self._written:  # a mesh that is never visible gets no frames
                self._add(name, number, _NOTHING)
        if not self.counts:
            where = (f"frame {frame_text(number)}: {why}" for number, why in self.damaged.items())
            why = next(where, "no mesh is visible in any frame")
            raise MeshqcError(f"{safe(self._path.name)}: {why}; no frame can be unpacked")
        for place, data in self._beside():
            self._put(place, data)

    def numbers(self) -> dict[tuple[str, str], list[Fraction]]:
        """Return the frame numbers in the file names, by folder and stem. Damaged and missing frames are included."""
        first, last = self._wanted.frames[0], self._wanted.frames[-1]
        gaps = (number for number in _gaps(self._animation, self._wanted) if first < number < last)
        numbers = sorted({*self._wanted.frames, *gaps})
        found = {}
        for name in filter(self._written.__contains__, self._sequences):
            stem = os.fsencode(f"{name}.")
            places = (os.fsencode(self._place(name, number)) for number in numbers)
            found[".", Name(stem).text] = [number_after(stem, place) for place in places]
        return found

    def losses(self) -> list[dict[str, object]]:
        """Return the content that was left out of some or all frames, as values for the receipt."""
        return [
            *({"what": one.what, "seen": one.seen, "frames": len(self._wanted.frames)} for one in self._wanted.notes),
            *(
                {"what": one.what, "seen": one.seen, "frames": len(numbers), "files": self._files_without[one]}
                for one, numbers in self.left_out.items()
            ),
        ]

    def _frame(self, name: str, take: Take, number: Fraction) -> None:
        try:
            mesh = self._names.applied(self._animation.mesh(number, take))
        except UnreadableFrame as error:
            if error.problem.kind == "no-mesh":
                self._empty.append((name, number))
            else:
                self.damaged[number] = error.words
            return
        self._written.add(name)
        self._add(name, number, mesh)

    def _add(self, name: str, number: Fraction, mesh: Mesh) -> None:
        place = self._place(name, number)
        done = self._staging.done(place)
        if done is None:
            self._put(place, self._composers[name].text(mesh, library_name(self._path)))
        else:
            self.files.append(done)
        self.counts[place] = (len(mesh.positions), len(mesh.uvs), len(mesh.corners.sizes))
        for material in mesh.materials:
            if self._materials.setdefault(material.name, material) != material:
                changed = f"the values of material {material.name}, which differ from those of an earlier frame"
                self._animation.left_out[LeftOut(changed, seen=True)] += 1

    def _place(self, name: str, number: Fraction) -> str:
        padding = max(4, len(str(int(max(self._wanted.frames) + self._wanted.shift))))
        whole, _, part = f"{float(number + self._wanted.shift):.4f}".partition(".")
        return f"{name}.{int(whole):0{padding}d}{'.' + part.rstrip('0') if part.strip('0') else ''}.obj"

    def _put(self, place: str, data: bytes) -> None:
        written = WrittenFile(place, (), sha256(data))
        self._staging.write(data, written)
        self.files.append(written)

    def _beside(self) -> Iterator[tuple[str, bytes]]:
        """Yield the path and content of the library and of each texture."""
        materials = self._materials.values()
        if materials:
            yield os.fsdecode(library_name(self._path).raw), compose_library(materials)
        for image in dict.fromkeys(one.image for material in materials for one in material.maps):
            if image.data is not None:
                yield os.fsdecode(image.name.raw), image.data
            for number, data in image.tiles:
                yield os.fsdecode(image.name.raw.replace(b"<UDIM>", b"%d" % number)), data


def _compare(written: Mapping[str, _Counts], after: FolderInspection) -> None:
    """Check that the inspected frames have as many vertices, UVs and faces as the written frames.

    Raises:
        MeshqcError: A number differs.
    """
    read = {
        os.fsdecode(facts.file.name.raw): (facts.vertices, facts.uvs, facts.faces)
        for one in after.inspections
        for facts in one.series.facts
    }
    for name, counts in written.items():
        if read.get(name) != counts:
            raise MeshqcError(
                f"{safe(name)}: the mesh that was read back differs from the mesh that was written; nothing was "
                "unpacked"
            )


def _put_notes(
    wanted: UnpackRequest,
    receipt: Mapping[str, object],
    frames: _Frames,
    after: FolderInspection,
    staging: Staging,
) -> None:
    """Write the receipt, the hand-off note and the list of digests."""
    source = Name(os.fsencode(str(receipt["source"])))
    handoff = unpacked_note_bytes(source, wanted.about, frames.left_out, after)
    receipt = {**receipt, "left": left_of(after), "handoff": sha256(handoff)}
    notes = {RECEIPT_NAME: receipt_bytes(receipt), HANDOFF_NAME: handoff}
    for name, data in notes.items():
        staging.put(name, data)
    digests = [(file.path, file.sha256) for file in frames.files] + [
        (name, sha256(data)) for name, data in notes.items()
    ]
    staging.put(SUMS_NAME, sums_bytes(digests))
