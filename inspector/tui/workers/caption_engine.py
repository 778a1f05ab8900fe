"""Work on caption versions in a thread: read them from a file, draw them on their textures, and judge them."""

from __future__ import annotations

from textual.message import Message

from inspector.errors import Cancelled, MeshqcError, unexpected
from inspector.lettering.caption_file import Version, find_captions, read_captions
from inspector.lettering.caption_versions import CaptionCase, drawn_case, read_cases
from inspector.lettering.sequence_fit import SequenceFit
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.run.scan import Cancel
from inspector.tui.workers.engine import Pace, Post


class CaptionsFound(Message):
    """The versions in the captions file.

    Args:
        versions: The versions; empty if there is no file, or if it can't be read.
        reason: Why the file can't be read; empty if there is no problem.
    """

    def __init__(self, versions: tuple[Version, ...], reason: str = "") -> None:
        super().__init__()
        self.versions = versions
        self.reason = reason


class Lettering(Message):
    """Progress of the work on a version."""

    def __init__(self, version: Version, words: str) -> None:
        super().__init__()
        self.version = version
        self.words = words


class Lettered(Message):
    """A version on its texture.

    Args:
        version: The version.
        case: The version as drawn and, once every frame has been judged, the visibility of its letters.
    """

    def __init__(self, version: Version, case: CaptionCase) -> None:
        super().__init__()
        self.version = version
        self.case = case


class NotLettered(Message):
    """A caption version could not be drawn or judged."""

    def __init__(self, version: Version, reason: str) -> None:
        super().__init__()
        self.version = version
        self.reason = reason


def find(fit: SequenceFit, resolver: MaterialResolver, post: Post) -> None:
    """Read the captions file, and post a `CaptionsFound` message.

    The file is in the folder of the frames or, if that folder has no captions file, in the inspected folder.
    """
    scope = resolver.scope
    try:
        file = find_captions((fit.series.sequence.folder, *scope.roots[:1]), scope)
        post(CaptionsFound(() if file is None else read_captions(file, scope)))
    except (MeshqcError, OSError) as error:
        post(CaptionsFound((), str(error)))
    except Exception as error:  # the session must go on
        post(CaptionsFound((), unexpected(error)))


def letter(fit: SequenceFit, version: Version, resolver: MaterialResolver, post: Post, cancelled: Cancel) -> None:
    """Draw a caption version. If its text fits, judge the version in every frame.

    Post a `Lettered` message after drawing, and another after judging. During judging, post `Lettering` messages at
    intervals. If drawing or judging fails or is stopped, post a `NotLettered` message.
    """
    pace = Pace()

    def stage(doing: str, done: int, total: int) -> None:
        if pace.due():
            post(Lettering(version, f"{doing}, {done:,} of {total:,}"))

    try:
        case = drawn_case(fit, version, resolver.of_frame(fit.series.reference_facts), resolver.scope)
        post(Lettered(version, case))
        if case.lettered is not None:
            post(Lettered(version, *read_cases(fit, [case], stage, cancelled)))
    except Cancelled:
        post(NotLettered(version, "stopped"))
    except MeshqcError as error:
        post(NotLettered(version, str(error)))
    except Exception as error:  # the session goes on
        post(NotLettered(version, unexpected(error)))
