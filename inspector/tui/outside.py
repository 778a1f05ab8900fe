"""Output of the terminal UI for other programs: texts for the clipboard, and a file and its line for an editor."""

from __future__ import annotations

import base64
import os
import shlex
from collections.abc import Mapping
from pathlib import Path

from inspector.delivery.destination import free_name
from inspector.tui.columns import title_of
from inspector.tui.session import Session


def clipboard_sequence(text: str) -> str:
    """The sequence that makes a terminal copy the text, if it allows that: OSC 52 (xterm control sequences, from
    memory).
    """
    return f"\x1b]52;c;{base64.b64encode(os.fsencode(text)).decode()}\x07"


def copyable(session: Session) -> list[tuple[str, str]]:
    """Names and texts of everything that can be copied from the screen."""
    file = _file(session)
    texts = [] if file is None else [("file", str(file))]
    finding = session.finding
    if finding is not None:
        words = f"{title_of(finding.check)}: {finding.message}"
        view, at = session.view, session.selection.finding
        if finding.frames and view is not None and at is not None:
            words += f" ({'frames' if len(finding.frames) > 1 else 'frame'} {view.ranges(at)})"
        texts.append(("finding", words))
    root = shlex.quote(str(session.root))
    texts.append(("check command", f"meshqc check {root}"))
    staged = session.staged.choices
    if staged and not any(choice.parameters for choice in staged):
        names = " ".join(f"--only {name}" for name in dict.fromkeys(choice.fix for choice in staged))
        out = shlex.quote(str(free_name(session.root)))
        texts.append(("fix command", f"meshqc fix {root} --output {out} {names}"))
    if finding is not None:
        texts.append(("explain command", f"meshqc explain {finding.check}"))
    return texts


def editor_command(session: Session, environment: Mapping[str, str]) -> list[str] | None:
    """The command that opens the frame's file in the user's editor, at the line of the finding (`+N`: POSIX vi; common
    elsewhere).

    Args:
        session: The session, for the frame and the finding.
        environment: Environment variables.

    Returns:
        None if the frame has no file.
    """
    finding, path, line = session.finding, _file(session), 1
    for where in finding.where if finding is not None else ():
        named = session.root / where.file.text
        if path is None or named.name == path.name:
            path, line = path or named, where.line or 1
            break
    if path is None or not path.is_file():
        return None
    editor = shlex.split(environment.get("VISUAL") or environment.get("EDITOR") or "vi")
    return [*editor, f"+{line}", str(path)]


def _file(session: Session) -> Path | None:
    """The file of the frame under the cursor."""
    view, row = session.view, session.row
    facts = None if view is None or row is None else view.facts_of(row)
    return None if facts is None else facts.file.path
