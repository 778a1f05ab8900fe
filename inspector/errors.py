"""Errors that are reported to the user, in words fit for a screen."""

from __future__ import annotations

import traceback
from pathlib import Path


class MeshqcError(Exception):
    """A failure with a message for the user: file, line and cause, already safe to show.

    Example:
        >>> try:
        ...     inspect("nowhere")
        ... except MeshqcError as error:
        ...     print(error)
        nowhere: not a folder that can be read (No such file or directory); check how the path is written
    """


class Refusal(MeshqcError):
    """A fix or a delivery was refused, because it would be a guess or could do harm; the message is the reason.

    Example:
        >>> try:
        ...     deliver(plan(inspect("harbour/manta")), "harbour")
        ... except Refusal as refusal:
        ...     print(refusal)
        harbour: already exists; choose another name
    """


class SourceChanged(MeshqcError):
    """A file changed after it was inspected, so its findings may no longer hold.

    Example:
        >>> str(SourceChanged.of("manta.0003.obj"))
        'manta.0003.obj: changed after it was inspected; inspect the folder again'
    """

    @classmethod
    def of(cls, file: str) -> SourceChanged:
        """Make the error about a file.

        Args:
            file: Its name, safe to show.
        """
        return cls(f"{file}: changed after it was inspected; inspect the folder again")


class Cancelled(MeshqcError):
    """The user stopped the work; nothing unfinished has its final name.

    The functions of the package are never stopped; a command raises this for Ctrl-C.

    Example:
        >>> issubclass(Cancelled, MeshqcError)
        True
    """


def unexpected(error: BaseException) -> str:
    """Describe an unforeseen error, for the user and for a bug report.

    Returns:
        `a mistake in meshqc (scan.py:12): KeyError: ...`, or `memory ran out (raster.py:71)`; the location is the
        innermost one. Characters beyond printable ASCII are escaped, because the message may contain text from a file.
    """
    frames = traceback.extract_tb(error.__traceback__)
    location = f" ({Path(frames[-1].filename).name}:{frames[-1].lineno})" if frames else ""
    if isinstance(error, MemoryError):
        return f"memory ran out{location}"
    return f"a mistake in meshqc{location}: {type(error).__name__}: {ascii(str(error))[1:-1]}"
