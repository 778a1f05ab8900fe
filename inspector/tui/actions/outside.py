"""Actions outside the open folder: opening another folder, copying to the clipboard, and starting an editor."""

from __future__ import annotations

import base64
import os
import shlex
import subprocess
from collections.abc import Mapping
from pathlib import Path

from textual.app import SuspendNotSupported

from inspector.delivery.destination import free_name
from inspector.errors import MeshqcError
from inspector.inspection.folder_rules import load_rules
from inspector.names import safe
from inspector.report.command_options import fix_word, judged_options, quoted_path, source_options
from inspector.tui import saved_state
from inspector.tui.actions.session_app import SessionApp
from inspector.tui.columns import title_of
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.session import Session


def clipboard_sequence(text: str) -> str:
    """Return the OSC 52 sequence, which copies a text to the clipboard if the terminal allows it (xterm control
    sequences, from memory)."""
    return f"\x1b]52;c;{base64.b64encode(os.fsencode(text)).decode()}\x07"


def copyable(session: Session) -> list[tuple[str, str]]:
    """Return the name and the content of each text that can be copied now."""
    file = _file(session)
    texts = [] if file is None else [("file path", str(file))]
    finding = session.finding
    if finding is not None:
        words = f"{title_of(finding.check)}: {finding.message}"
        view, at = session.view, session.selection.finding
        if finding.frames and view is not None and at is not None:
            words += f" ({'frames' if len(finding.frames) > 1 else 'frame'} {view.ranges(at)})"
        texts.append(("finding", words))
    root, out = quoted_path(session.root), quoted_path(free_name(session.root))
    judged = list(judged_options(session.root, session.settings))
    texts.append(("check command", " ".join([f"meshqc check {root}", *judged])))
    if session.staged.choices:
        fixes = dict.fromkeys(f"--only {fix_word(one.fix, one.parameters)}" for one in session.staged.choices)
        options = [*judged, *source_options(session.settings), *fixes]
        texts.append(("fix command", " ".join([f"meshqc fix {root} --output {out}", *options])))
    if (written := session.staged.written_to) is not None:
        texts.append(("corrected folder path", str(written)))
        texts.append(("verify command", f"meshqc verify {quoted_path(written)}"))
    if finding is not None:
        texts.append(("explain command", f"meshqc explain {finding.check}"))
    return texts


def editor_command(session: Session, environment: Mapping[str, str]) -> list[str] | None:
    """Return the command that opens a file in the user's editor; None if no file can be opened.

    The file is that of the frame under the cursor or, if the frame has no file, the first file that the chosen finding
    names. The line to go to is given as `+N` (POSIX vi; common in other editors). It is the line that the finding names
    in this file, or line 1.
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
    """Return the file of the frame under the cursor; None if there is no such frame, or if it has no file."""
    view, row = session.view, session.row
    facts = None if view is None or row is None else view.facts_of(row)
    return None if facts is None else facts.file.path


class OutsidePart(SessionApp):
    """The part of the app that opens other folders, copies text to the clipboard, and starts the editor."""

    async def action_open(self) -> None:
        """Open a recent folder, or a folder whose path the user types."""
        here = self.session.root
        recent = [folder for folder in saved_state.recent_folders() if folder != here][:8]

        async def done(answer: int | None) -> None:
            if answer is None:
                return
            if answer < len(recent):
                await self._open_folder(recent[answer])
            else:
                await self._ask_folder()

        if recent:
            lines = [*(safe(str(folder)) for folder in recent), "another folder (type its path)"]
            await self.push_screen(ChoiceDrawer(self.glyphs, "open", lines), done)
        else:
            await self._ask_folder()

    async def _ask_folder(self) -> None:
        base = self.session.root.parent

        def folder(values: Values) -> Path:
            return base / Path(values["folder"]).expanduser()

        async def done(values: Values | None) -> None:
            if values is not None:
                await self._open_folder(folder(values))

        def fault(values: Values) -> str | None:
            return None if values["folder"] and folder(values).is_dir() else "not a folder"

        fields = [Field("folder", f"relative paths start at {base}")]
        await self.push_screen(Prompt(self.glyphs, "open a folder", fields, fault, paths=base), done)

    async def _open_folder(self, folder: Path) -> None:
        try:
            load_rules(folder)
        except MeshqcError as error:  # the folder would be refused after this one is closed
            self.say(str(error))
            return

        async def leave() -> None:
            await self.session.link.settle()
            self.next_folder = folder
            self.exit(0)

        await self.ask_about_staged("leave this folder", leave)

    async def action_open_written(self) -> None:
        out = self.session.staged.written_to
        if out is not None and out.is_dir():
            await self._open_folder(out)
        else:
            self.say("the corrected folder no longer exists")

    async def action_copy(self) -> None:
        """Copy a text that the user chooses, such as a path, a finding or a command."""
        texts = copyable(self.session)
        lines = [f"{name}: {safe(text)}" for name, text in texts]

        def done(answer: int | None) -> None:
            if answer is not None:
                if self._driver is not None and not self.is_headless:
                    self._driver.write(clipboard_sequence(texts[answer][1]))
                self.say(f"asked the terminal to copy the {texts[answer][0]}; some terminals don't allow this")

        await self.push_screen(ChoiceDrawer(self.glyphs, "copy", lines), done)

    def action_editor(self) -> None:
        command = editor_command(self.session, os.environ)
        if command is None:
            self.say("there is no file to open")
            return
        try:
            with self.suspend():
                subprocess.run(command, check=False)
        except SuspendNotSupported:
            self.say("the editor can't be opened, because the program can't be suspended in this environment")
        except OSError as error:
            self.say(f"can't start the editor {safe(command[0])}: {error.strerror}; set $VISUAL or $EDITOR")
