"""Verify an existing delivery: compare its files with the receipt and the list of digests, and run the checks again."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.finding import Finding
from inspector.delivery.choices import sequence_key, serious
from inspector.delivery.destination import parts_of
from inspector.delivery.handoff import HANDOFF_NAME
from inspector.delivery.journal import sha256
from inspector.delivery.plan_file import statements_from_json, with_statements
from inspector.delivery.receipt import FORMAT, SUMS_NAME, sums_of
from inspector.errors import MeshqcError
from inspector.inspection.inspection import FolderInspection, Progress, inspect_folder
from inspector.names import Name, safe
from inspector.safe_open import read_place
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.sequence.discovery.receipt_file import read_receipt as read_receipt_document
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings, fraction_of_json

_Found = Mapping[tuple[str, str], frozenset[Fraction]]


@dataclass(frozen=True, slots=True)
class Receipt:
    """The parts of a receipt that the verification needs.

    Attributes:
        version: Version of meshqc that wrote the receipt.
        files: SHA-256 of each delivered file, by path.
        notes: SHA-256 of the hand-off note, by path.
        stated: The user's statements with which the delivery was checked.
        left: Frames of the errors and warnings that the delivery still had, by sequence key and check id.
    """

    version: str
    files: Mapping[str, str]
    notes: Mapping[str, str]
    stated: Settings
    left: _Found


@dataclass(frozen=True)
class Audit:
    """The result of a verification. Paths are relative to the delivered folder.

    Attributes:
        receipt: The receipt.
        after: The inspection of the folder.
        changed: Files whose content has changed.
        missing: Files of the delivery that don't exist, can't be read, or have a link in their path.
        extra: Files, links, and empty or unreadable folders that are not part of the delivery.
        disputed: Files that don't have the same digest in the receipt and in the list of digests.
        new: Errors and warnings that the receipt doesn't record, each with the key of its sequence.
    """

    receipt: Receipt
    after: FolderInspection
    changed: tuple[str, ...]
    missing: tuple[str, ...]
    extra: tuple[str, ...]
    disputed: tuple[str, ...]
    new: tuple[tuple[str, Finding], ...]

    @property
    def proven(self) -> bool:
        """Whether the folder is exactly what was delivered, and the checks report nothing new."""
        return not (self.changed or self.missing or self.extra or self.disputed or self.new)


def audit(
    out: Path, settings: Settings, digest_done: Callable[[int, int], None], checked: Progress | None = None
) -> Audit:
    """Verify a delivered folder.

    Args:
        out: The folder.
        settings: The user's current statements. Other statements are taken from the receipt.
        digest_done: Called after each file, with the number of files done and the total number of files.
        checked: Called after each frame that the inspection measures.

    Raises:
        MeshqcError: The folder can't be read, or its receipt is missing, damaged or in a format that this version of
            meshqc doesn't read.
    """
    receipt = read_receipt(out)
    listed = _listed(out)
    wanted = {RECEIPT_NAME: (listed or {}).get(RECEIPT_NAME), **receipt.files, **receipt.notes}
    changed: list[str] = []
    missing: list[str] = []
    for number, (path, digest) in enumerate(sorted(wanted.items()), 1):
        found = _digest(out, path)
        if found is None:
            missing.append(path)
        elif digest is not None and found != digest:
            changed.append(path)
        digest_done(number, len(wanted))
    expected = wanted.keys() | {SUMS_NAME}
    if listed is None:
        (changed if os.path.lexists(out / SUMS_NAME) else missing).append(SUMS_NAME)
        disputed = set()
    else:
        disputed = {path for path in wanted.keys() | listed.keys() if listed.get(path, "") != wanted.get(path)}
    after = inspect_folder(out, with_statements(settings, receipt.stated), checked)
    return Audit(
        receipt,
        after,
        tuple(changed),
        tuple(missing),
        tuple(sorted(set(_files(out)) - expected)),
        tuple(sorted(disputed)),
        tuple(_new(after, receipt.left)),
    )


def file_paths(found: Audit) -> list[str]:
    """Return the sorted paths of all files of the delivery, including the receipt and the list of digests."""
    return sorted({RECEIPT_NAME, SUMS_NAME, *found.receipt.files, *found.receipt.notes})


def read_receipt(out: Path) -> Receipt:
    """Read the receipt of a delivery.

    Raises:
        MeshqcError: The receipt is missing, damaged or in a format that this version of meshqc doesn't read.
    """
    name = Name.from_path(out)
    try:
        text = read_receipt_document(out)
        if text["format"] != FORMAT:
            raise MeshqcError(
                f"{name}: the receipt has format {safe(str(text['format']))}, but this version of meshqc reads only "
                f"format {FORMAT}; deliver the folder again with `meshqc fix`"
            )
        files = {str(file["path"]): str(file["after"]) for file in text["files"]}
        for path in files:
            list(parts_of(path))
        stated = statements_from_json(text["stated"])
        notes = {HANDOFF_NAME: str(text["handoff"])}
        return Receipt(str(text["tool"]["version"]), files, notes, stated, _left(text["left"]))
    except OSError as error:
        raise MeshqcError(
            f"{name}: {RECEIPT_NAME} can't be read ({error.strerror}); choose a folder that meshqc delivered"
        ) from error
    except (ValueError, TypeError, KeyError, AttributeError, ZeroDivisionError, RecursionError) as error:
        raise MeshqcError(
            f"{name}: {RECEIPT_NAME} is damaged or was written by another program, so the folder can't be verified"
        ) from error


def _left(entries: list[Mapping[str, list[object]]]) -> _Found:
    found: dict[tuple[str, str], frozenset[Fraction]] = {}
    for entry in entries:
        key = (str(entry["sequence"]), str(entry["check"]))
        frames = frozenset(fraction_of_json(number) for number in entry["frames"])
        found[key] = frames | found.get(key, frozenset())
    return found


def _listed(out: Path) -> Mapping[str, str] | None:
    """Return the listed digest of each file, by path; None if the list can't be read or is not valid."""
    try:
        return sums_of(Scope(out).read(out / SUMS_NAME))
    except (OSError, ValueError):
        return None


def _digest(out: Path, path: str) -> str | None:
    """Return the SHA-256 of a file; None if the file can't be read or its path contains a link.

    Links are not followed, because they might lead out of the folder.
    """
    place = Path(os.path.realpath(out))
    try:
        for part in parts_of(path):
            place = place / part
            if place.is_symlink():
                return None
        return sha256(read_place(place))
    except OSError:
        return None


def _files(out: Path) -> Iterator[str]:
    """Yield the relative path of every file and link in a folder, and of every empty or unreadable subfolder.

    The path of a subfolder ends with a slash.
    """
    closed: list[str] = []
    for folder, inner, names in os.walk(out, onerror=lambda error: closed.append(os.fspath(error.filename))):
        here = Path(folder)
        links = [name for name in inner if (here / name).is_symlink()]
        yield from ((here / name).relative_to(out).as_posix() for name in (*names, *links))
        if here != out and not inner and not names:
            yield here.relative_to(out).as_posix() + "/"
    yield from (Path(folder).relative_to(out).as_posix() + "/" for folder in closed)


def _new(after: FolderInspection, left: _Found) -> Iterator[tuple[str, Finding]]:
    for one in after.inspections:
        key = sequence_key(one)
        for finding in serious(one):
            known = left.get((key, finding.check))
            if known is None or not known.issuperset(finding.frames):
                yield key, finding
