"""Actions that lead out of the open folder: another folder, the clipboard, an editor."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

from textual.app import SuspendNotSupported

from inspector.names import safe
from inspector.tui import saved_state
from inspector.tui.actions.session_app import SessionApp
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.outside import clipboard_sequence, copyable, editor_command


class OutsidePart(SessionApp):
    """Opens other folders, copies, and starts the editor."""

    async def action_open(self) -> None:
        """Open another folder: a recent folder, or a folder whose path the user types."""
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
            lines = [*(safe(str(folder)) for folder in recent), "another folder, by its path"]
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
        async def leave() -> None:
            await self.session.link.settle()
            self.next_folder = folder
            self.exit(0)

        await self.ask_about_staged("leave this folder", leave)

    async def action_open_written(self) -> None:
        """Open the corrected folder."""
        out = self.session.staged.written_to
        if out is not None and out.is_dir():
            await self._open_folder(out)
        else:
            self.say("no corrected folder yet: w writes one")

    async def action_copy(self) -> None:
        """Copy something that is on the screen."""
        texts = copyable(self.session)
        lines = [f"{name}: {safe(text)}" for name, text in texts]

        def done(answer: int | None) -> None:
            if answer is not None:
                if self._driver is not None and not self.is_headless:
                    self._driver.write(clipboard_sequence(texts[answer][1]))
                self.say(f"copied the {texts[answer][0]}, if the terminal allows it")

        await self.push_screen(ChoiceDrawer(self.glyphs, "copy", lines), done)

    def action_editor(self) -> None:
        """Open the frame's file in the user's editor."""
        command = editor_command(self.session, os.environ)
        if command is None:
            self.say("no file for this frame")
            return
        try:
            with self.suspend():
                subprocess.run(command, check=False)
        except SuspendNotSupported:
            self.say("the editor can't be opened from here")
        except OSError as error:
            self.say(f"{safe(command[0])}: {error.strerror}; set $EDITOR")
