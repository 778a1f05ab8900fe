"""Errors whose messages are shown to the user."""

from __future__ import annotations

import traceback
from collections.abc import Iterable
from pathlib import Path

Answer = tuple[str, str]
"""An option of `meshqc fix` and its value, without shell quoting."""


class MeshqcError(Exception):
    """A failure with a message that is safe to show to the user.

    The message states the cause and, if they are known, the file and the line.

    Example:
        >>> try:
        ...     inspect("nowhere")
        ... except MeshqcError as error:
        ...     print(error)
        nowhere: not a readable folder (No such file or directory); check the spelling of the path
    """


class Refusal(MeshqcError):
    """A fix or a delivery was refused, for example because it would be a guess or could do harm.

    Attributes:
        answers: Options of `meshqc fix` with their values, such as ("--invent-at-most", "6"). Any one of them resolves
            the refusal. Empty if no such option is known.

    Example:
        >>> try:
        ...     deliver(plan(inspect("harbour/manta")), "harbour")
        ... except Refusal as refusal:
        ...     print(refusal)
        harbour: already exists; choose another name
    """

    def __init__(self, reason: str, answers: Iterable[Answer] = ()) -> None:
        """Store the reason and the answers.

        Args:
            reason: The reason, safe to show.
            answers: The options that resolve the refusal.
        """
        super().__init__(reason)
        self.answers = tuple(answers)


class SourceChanged(MeshqcError):
    """A file changed after it was inspected, so its findings may be out of date.

    Example:
        >>> str(SourceChanged.of("manta.0003.obj"))
        'manta.0003.obj: changed after it was inspected; inspect the folder again'
    """

    @classmethod
    def of(cls, file: str) -> SourceChanged:
        """Make the error for a file.

        Args:
            file: The file's name, safe to show.
        """
        return cls(f"{file}: changed after it was inspected; inspect the folder again")


class Cancelled(MeshqcError):
    """The user stopped the work. No unfinished file or folder has its final name.

    The public functions of the package never raise this error. A command raises it when the user presses Ctrl-C.

    Example:
        >>> issubclass(Cancelled, MeshqcError)
        True
    """


def unexpected(error: BaseException) -> str:
    """Describe an unforeseen error, for the user and for a bug report.

    Returns:
        `an internal error in meshqc (scan.py:12): KeyError: ...`, or `memory ran out (raster.py:71)`. The location is
        that of the innermost call. Characters beyond printable ASCII are escaped, because the text may come from a
        file.
    """
    frames = traceback.extract_tb(error.__traceback__)
    location = f" ({Path(frames[-1].filename).name}:{frames[-1].lineno})" if frames else ""
    if isinstance(error, MemoryError):
        return f"memory ran out{location}"
    return f"an internal error in meshqc{location}: {type(error).__name__}: {ascii(str(error))[1:-1]}"
