"""Read what the receipt of a delivery states about the frames in its folder."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from inspector.formats.registry import by_ending
from inspector.names import safe
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.receipt_file import NOT_OURS, StatedFrames, frames_in, read_receipt
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import fraction_of_json


@dataclass(frozen=True, slots=True)
class ReceiptMarks:
    """The statements of a receipt about the frames in its folder.

    Attributes:
        invented: How added frames were made ("hold", "blend"), by path relative to the folder, with forward slashes.
            Frames that a later export has replaced are not included.
        rate: Frames per second, as stated when the frames were written; None if no rate was stated.
        left_out: Parts of a scene file that are missing from some frames. For each part: its description, whether the
            picture changes without the part, and the paths of the frames without the part.
        delivered: Whether meshqc wrote a receipt. If so, numbered files in the folder count as frames, however much
            they differ.
        frames: The numbers of all frames of each sequence. The key consists of the sequence's folder (relative to the
            receipt's folder) and the sequence's stem.
    """

    invented: Mapping[str, str] = field(default_factory=dict)
    rate: Fraction | None = None
    left_out: tuple[tuple[str, bool, frozenset[str]], ...] = ()
    delivered: bool = False
    frames: StatedFrames = field(default_factory=dict)

    def with_stated(self, sequence: FrameSequence) -> FrameSequence:
        """Return the sequence with the numbers that the receipt states for it.

        The sequence is unchanged if the receipt states no numbers for it. It is also unchanged if it has numbers that
        the receipt doesn't state: in this case, frames were exported into the folder later.
        """
        stated = self.frames.get((sequence.relative.text, sequence.stem.text))
        if stated is None or not stated.issuperset(file.number for file in sequence.files):
            return sequence
        return replace(sequence, stated=stated)


def read_marks(folder: Path) -> ReceiptMarks:
    """Read the statements of the receipt in `folder`; empty if there is no valid receipt."""
    try:
        receipt = read_receipt(folder)
        scope = Scope(folder)
        invented = {
            str(file["path"]): str(file["invented"])
            for file in receipt["files"]
            if file.get("invented") and _is_as_delivered(scope, folder / str(file["path"]), file["after"])
        }
        left_out = tuple(
            (safe(str(one["what"])), one["seen"] is True, frozenset(map(str, one["files"])))
            for one in receipt.get("left_out", ())
            if "files" in one
        )
        return ReceiptMarks(invented, _rate(receipt), left_out, delivered=True, frames=frames_in(receipt))
    except NOT_OURS:
        return ReceiptMarks()


def _is_as_delivered(scope: Scope, path: Path, sha256: object) -> bool:
    try:
        return hashlib.sha256(scope.read(path)).hexdigest() == sha256
    except OSError:
        return False


def _rate(receipt: Any) -> Fraction | None:
    stated = receipt.get("stated", {}).get("rate")
    rate = None if stated is None else fraction_of_json(stated)
    return rate if rate is not None and 0 < rate < 1000 else None


def corrected_frames(files: Sequence[FrameFile], root: Path, folder: Path) -> tuple[FrameFile, ...]:
    """Return the source frames, with their paths replaced by the paths of the files that a delivery made from them. The
    delivered files need not exist.

    A frame that the receipt doesn't mention is assumed to have the same path in the delivery.

    Args:
        files: The source frames.
        root: Root of the source. The paths of source files in the receipt are relative to it.
        folder: The folder of the delivery.
    """
    made = corrected_files(folder)
    names = [one.path.relative_to(root).as_posix() for one in files]
    paths = [made.get(name, folder / name) for name in names]
    return tuple(replace(one, path=path, target=None) for one, path in zip(files, paths, strict=True))


def corrected_files(folder: Path) -> Mapping[str, Path]:
    """Return the paths of the frames that a delivery made from source files, according to the receipt in `folder`.

    The keys are the source files' paths relative to the root of the source, with forward slashes. Added frames, and
    paths that lead outside the folder, are left out. Empty without a valid receipt.
    """
    try:
        pairs = [
            (str(before["path"]), str(file["path"]))
            for file in _files(folder)
            if _ends_as_a_frame(str(file["path"]))  # a file that contains its materials becomes a frame and a library
            and not file.get("invented")  # made from neighbouring frames, which have files of their own
            for before in file["before"][:1]
        ]
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}
    scope = Scope(folder)
    return {source: folder / path for source, path in pairs if scope.contains(folder / path)}


def _ends_as_a_frame(path: str) -> bool:
    return os.fsencode(Path(path).suffix.lower()) in by_ending()


def _files(folder: Path) -> Any:
    """Return the receipt's entries about the written files.

    Because the receipt may contain anything, this function may raise any error that a wrong type or key causes.
    """
    return read_receipt(folder)["files"]
