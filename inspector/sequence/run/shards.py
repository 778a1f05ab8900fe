"""Measure a folder in parts, on any render queue.

The facts of each part are written to a file. No frame is read again when the files are merged.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from inspector.errors import MeshqcError
from inspector.names import Name, safe
from inspector.safe_open import read_file
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.facts_json import MEASUREMENT, facts_from_json, facts_to_json
from inspector.sequence.run.chunks import Span

FORMAT = 1


@dataclass(frozen=True, slots=True)
class QueuePart:
    """One of the parts into which the frames of a folder are divided, with about the same number of frames each.

    Attributes:
        number: Number of this part, from 1.
        of: Total number of parts.
    """

    number: int
    of: int

    def spans(self, sequences: Sequence[FrameSequence]) -> list[Span]:
        """Return the frames of this part, one span per sequence. All parts together cover each frame once."""
        return [
            (index, len(one.files) * (self.number - 1) // self.of, len(one.files) * self.number // self.of)
            for index, one in enumerate(sequences)
        ]


def part_document(part: QueuePart, root: Path, rows: Iterable[tuple[FrameFacts, FrameFile | None]]) -> dict[str, Any]:
    """Make the JSON document of a part: the facts of each frame, and the identities of its file and of the previous
    frame's file."""
    frames = [
        {"file": _identity(root, facts.file), "before": _identity(root, before), "facts": facts_to_json(facts)}
        for facts, before in rows
    ]
    return {"format": FORMAT, "measurement": MEASUREMENT, "part": [part.number, part.of], "frames": frames}


def merge_parts(
    paths: Sequence[Path], root: Path, sequences: Sequence[FrameSequence]
) -> list[tuple[FrameSequence, tuple[FrameFacts, ...]]]:
    """Read the facts of all frames from part files.

    Raises:
        MeshqcError: A part file can't be read, was not written by this version, or is damaged; a frame is in no part;
            or a frame's file, or another file that the frame depends on, has changed since the frame was measured.
    """
    known: dict[str, dict[str, Any]] = {}
    for path in paths:
        known.update(_rows(path))
    return [(sequence, tuple(_facts(sequence, root, known))) for sequence in sequences]


def _rows(path: Path) -> Iterator[tuple[str, dict[str, Any]]]:
    try:
        document = json.loads(read_file(path))
        if (document["format"], document["measurement"]) != (FORMAT, MEASUREMENT):
            raise MeshqcError(f"{safe(str(path))}: written by a different version of meshqc; measure this part again")
        rows = [(json.dumps([row["file"], row["before"]]), row["facts"]) for row in document["frames"]]
    except OSError as error:
        raise MeshqcError(f"{safe(str(path))}: {error.strerror}") from error
    except (ValueError, TypeError, KeyError) as error:
        raise MeshqcError(f"{safe(str(path))}: not a part file that `meshqc check --part` wrote") from error
    yield from rows


def _facts(sequence: FrameSequence, root: Path, known: dict[str, dict[str, Any]]) -> Iterator[FrameFacts]:
    before: FrameFile | None = None
    for file in sequence.files:
        row = known.get(json.dumps([_identity(root, file), _identity(root, before)]))
        if row is None:
            raise MeshqcError(
                f"{sequence.pattern.display}: no part has the current version of frame {frame_text(file.number)}. "
                "Either a part is missing, or the file has changed since it was measured. Run `meshqc check --part` "
                "again for the part that contains this frame."
            )
        facts = _checked(row, file)
        if not facts.still_holds(portable=True):
            raise MeshqcError(
                f"{file.name.display}: a file that this frame depends on has changed since the frame was measured. "
                "Run `meshqc check --part` again for the part that contains this frame."
            )
        yield facts
        before = file


def _checked(row: dict[str, Any], file: FrameFile) -> FrameFacts:
    try:
        return facts_from_json(row, file)
    except (ValueError, TypeError, KeyError) as error:
        raise MeshqcError(
            f"{file.name.display}: the measurements in the part file are damaged. Measure this part again."
        ) from error


def _identity(root: Path, file: FrameFile | None) -> list[Any] | None:
    if file is None:
        return None
    # Only size and modification time, because change times and inodes differ between mounts of the same storage.
    place = file.path.relative_to(root) if file.path.is_relative_to(root) else file.path
    return [Name.from_path(place.as_posix()).text, *file.state[:2]]
