"""A screen for editing caption versions, previewing them on the moving surface, and writing them to a file."""

from __future__ import annotations

import os
import shlex
from dataclasses import replace
from functools import partial
from pathlib import Path
from threading import Event

from textual.app import ComposeResult
from textual.containers import Horizontal

from inspector.delivery.output_file import refuse_early, write_new
from inspector.errors import MeshqcError
from inspector.lettering.caption_file import FILES, KEYS, Version, allowed_text, with_typed
from inspector.lettering.caption_versions import CaptionCase
from inspector.lettering.caption_writing import captions_toml, typed
from inspector.lettering.sequence_fit import SequenceFit, display
from inspector.names import safe
from inspector.report.captions_text import frame_words
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.run.replay import alike
from inspector.tui import keys
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.caption_scene import CaptionLook, CaptionScene, Subject
from inspector.tui.pictures.cells import Cells
from inspector.tui.pictures.painter import NotPainted, Painted, Painter
from inspector.tui.pictures.scene import source_of
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.session import Captions, Session, Undo
from inspector.tui.widgets.caption_text import LegibilityStrip, caption_card, first_card
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.picture_pane import PicturePane
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page
from inspector.tui.workers import caption_engine
from inspector.tui.workers.caption_engine import CaptionsFound, Lettered, Lettering, NotLettered

LEAST_COLUMNS = 60
"""Minimum width, in columns, of a screen that shows a picture. On a narrower screen, there is no space for the text
beside the picture."""

_KEPT = 4
"""Maximum number of versions whose textures are kept in memory. The largest texture that is drawn takes 270 MB."""

_FIRST_NAME = "caption"
_LETTERS = "1234567890abcdefghijklmnop"


class CaptionScreen(SessionScreen):
    """A screen that shows one caption version at a time, in one frame. The session keeps the versions that the user
    typed.

    Args:
        fit: The fit of the sequence, for the material that carries the captions.
    """

    BINDINGS = keys.bindings(keys.CAPTIONS)

    def __init__(self, session: Session, glyphs: Glyphs, view: SequenceView, fit: SequenceFit) -> None:
        super().__init__(session, glyphs)
        self._view = view
        self._fit = fit
        self._resolver = MaterialResolver(Scope(session.root, session.settings.textures))
        self._source = source_of(session, view)
        self._frames = alike(fit.series)
        self._frame = self._first_frame()
        self._look = CaptionLook.CLOSE
        self._cells = ""
        self._known: dict[Version, CaptionCase] = {}
        self._subject: Subject | None = None
        self._reason = ""  # why the captions file can't be read
        self._progress = ""
        self._stop = Event()

    def _first_frame(self) -> int:
        """Return the index in `_frames` of the frame under the cursor; 0 if that frame isn't in `_frames`."""
        row = self.session.row
        at = None if row is None else self._view.rows[row].at
        return self._frames.index(at) if at in self._frames else 0

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, f"{self._view.sequence.pattern.display}: captions", id="captions-title")
        yield (words := Rule(self.glyphs, id="captions-version"))
        with Horizontal(classes="picture-and-words"):
            yield PicturePane(self.glyphs)
            yield Page(self.glyphs, words)
        yield Rule(self.glyphs, id="captions-frame")
        yield LegibilityStrip()
        yield KeyFooter(keys.CAPTIONS)

    def on_mount(self) -> None:
        self._painter = Painter(self.post_message, self.work)
        self._pane = self.query_one(PicturePane)
        if self._view.sequence.key in self.session.captions:
            self.session_changed()
        else:
            self.query_one(Page).show(Card())
            self.work(partial(caption_engine.find, self._fit, self._resolver, self.post_message))

    def on_unmount(self) -> None:
        self._stop.set()
        self._painter.forget()

    @property
    def _captions(self) -> Captions:
        """The versions; empty until the captions file has been read."""
        return self.session.captions.get(self._view.sequence.key, Captions())

    def _is_read(self) -> bool:
        """Return whether the reading of the captions file has ended; if not, show a message."""
        found = self._view.sequence.key in self.session.captions
        if not found:
            self.say("the captions file is still being read")
        return found

    @property
    def _case(self) -> CaptionCase | None:
        version = self._captions.version
        return None if version is None else self._known.get(version)

    def on_captions_found(self, message: CaptionsFound) -> None:
        self.session.captions[self._view.sequence.key] = Captions(message.versions, 0, message.versions)
        if message.reason:
            self._reason = message.reason
        self.session_changed()

    def session_changed(self) -> None:
        """Show the current version. Unless it has been judged or refused, start drawing and judging it."""
        if self._view.sequence.key not in self.session.captions:
            return  # the captions file has not been read yet
        version = self._captions.version
        self._stop.set()
        self._stop = Event()
        if version is not None and ((case := self._known.get(version)) is None or _unread(case)):
            self._progress = "starting"
            fit, post, stopped = self._fit, self.post_message, self._stop.is_set
            self.work(partial(caption_engine.letter, fit, version, self._resolver, post, stopped))
        self._show()

    def on_lettering(self, message: Lettering) -> None:
        self._hear(message.version, message.words)

    def on_not_lettered(self, message: NotLettered) -> None:
        self._hear(message.version, message.reason)

    def _hear(self, version: Version, words: str) -> None:
        if version == self._captions.version:
            self._progress = words
            self._show_words()

    def on_lettered(self, message: Lettered) -> None:
        self._known.pop(message.version, None)
        self._known[message.version] = message.case
        for version in list(self._known)[:-_KEPT]:
            del self._known[version]
        if message.version == self._captions.version:
            self._show()

    def _show(self) -> None:
        case = self._case
        lettered = None if case is None else case.lettered
        if case is None or case.fit is None or lettered is None:
            self._subject = None
        elif self._subject is None or self._subject.lettered is not lettered:
            self._subject = Subject(self._source, lettered, display(case.fit.material.material))
        self._show_words()
        self._draw()

    def _show_words(self) -> None:
        captions, case = self._captions, self._case
        version = captions.version
        rule = self.query_one("#captions-version", Rule)
        if version is None:
            card = first_card(self._reason)
            rule.title = "no captions yet"
        else:
            card = Card() if case is None else caption_card(case, self._progress, self._frame)
            if case is None:
                card.add("text    ", " | ".join(version.texts), hang=True)
                card.add("", self._progress)
            changed = ", not written" if captions.unwritten else ""
            rule.title = f"{version.name} ({captions.at + 1} of {len(captions.versions)}{changed})"
        self.query_one(Page).show(card)
        reading = None if case is None else case.reading
        frame = self.query_one("#captions-frame", Rule)
        number = frame_text(self._fit.series.facts[self._frames[self._frame]].number)
        words = "" if reading is None else f": {frame_words(reading, self._frame)}"
        frame.title, frame.note = f"frame {number}{words}", self._look.value
        self.query_one(LegibilityStrip).show(reading, self._frame)

    # The picture

    @property
    def _kinds_of_cells(self) -> list[Cells]:
        return self.kinds_of_cells(lines=False)

    def _draw(self, *, moving: bool = False) -> None:
        self._pane.display = self._captions.version is not None and self.size.width >= LEAST_COLUMNS
        size = self._pane.size
        if self._subject is None or not self._pane.display or not size.height:
            self._painter.forget()
            self._pane.say("")
            return
        cells = next((kind for kind in self._kinds_of_cells if kind.name == self._cells), self._kinds_of_cells[0])
        at = self._frames[self._frame]
        self._painter.ask(CaptionScene(self._subject, self._look, at, cells, size.width, size.height, moving))

    def on_picture_pane_resized(self) -> None:
        self._draw()

    def graphics_changed(self) -> None:
        self._draw()

    def on_painted(self, message: Painted) -> None:
        if isinstance(message.order, CaptionScene) and message.order.subject is self._subject:
            self._pane.show(message.strips)

    def on_not_painted(self, message: NotPainted) -> None:
        self._pane.say(message.reason)

    def action_look(self) -> None:
        looks = list(CaptionLook)
        self._look = looks[(looks.index(self._look) + 1) % len(looks)]
        self._show_words()
        self._draw()

    def action_cells(self) -> None:
        names = [kind.name for kind in self._kinds_of_cells]
        now = names.index(self._cells) if self._cells in names else 0
        self._cells = names[(now + 1) % len(names)]
        self._draw()

    # Frames

    def action_step(self, frames: int) -> None:
        """Step by a number of frames (below 0 to step back). After the last frame comes the first."""
        self._go_to((self._frame + frames) % len(self._frames))

    def _go_to(self, frame: int) -> None:
        self._frame = frame
        self._show_words()
        self._draw(moving=True)

    def action_problem(self, step: int) -> None:
        """Go to the next (`step` above 0) or the previous frame in which the version should be readable but is not."""
        case = self._case
        if case is None or case.reading is None:
            self.say("the caption has not been checked yet")
            return
        unreadable = set(case.reading.unreadable)
        bad = [at for at, number in enumerate(case.reading.seen.frames) if number in unreadable]
        there = [at for at in bad if (at > self._frame if step > 0 else at < self._frame)]
        if there:
            self._go_to(there[0] if step > 0 else there[-1])
        else:
            self.say(f"the caption is readable in every {'later' if step > 0 else 'earlier'} frame of its range")

    # Versions

    def action_version(self, step: int) -> None:
        """Show the next version (`step` 1) or the previous version (-1). After the last version comes the first."""
        captions = self._captions
        if not self._is_read():
            return
        if len(captions.versions) < 2:
            self.say("no other version; A: add a version")
            return
        captions.at = (captions.at + step) % len(captions.versions)
        self.session_changed()

    async def action_type(self) -> None:
        """Ask for the text of the version. If there is no version, make the first version from the text."""
        if self._is_read():
            await self._ask("texts", self._captions.version)

    async def action_change(self) -> None:
        """Ask which value of the version to change, and ask for the new value."""
        version = self._captions.version
        if not self._is_read():
            return
        if version is None:
            self.say("no caption yet; i: type a caption")
            return
        folder = self._view.sequence.folder
        width = max(map(len, KEYS))
        lines = [f"{key:{width}}  {safe(typed(version, key, folder))}".rstrip() for key in KEYS]

        async def done(answer: int | None) -> None:
            if answer is not None:
                await self._ask(KEYS[answer], version)

        await self.app.push_screen(ChoiceDrawer(self.glyphs, "change", lines, 1, _LETTERS), done)

    async def action_add(self) -> None:
        """Add a copy of this version with another name, and ask for its text."""
        if self._is_read():
            await self._ask("texts", self._captions.version, new=True)

    async def _ask(self, key: str, version: Version | None, *, new: bool = False) -> None:
        """Ask for a new value of a version's property. The property is `key`, one of KEYS.

        If `new` is set, add a copy of the version, and change only the copy. If `version` is None, make the first
        version from the entered value.
        """
        folder, captions = self._view.sequence.folder, self._captions
        if version is None or new:
            names = {one.name.casefold() for one in captions.versions}
            free = next(name for number in range(1, 10_000) if (name := f"{_FIRST_NAME}{number}") not in names)
            like = replace(version or Version(free, ()), name=free)
        else:
            like = version

        def changed(values: Values) -> Version:
            return with_typed(like, key, values[key], folder, self._resolver.scope)

        def fault(values: Values) -> str | None:
            try:
                name = changed(values).name.casefold()
            except MeshqcError as error:
                return str(error)
            others = [one.name.casefold() for one in captions.versions if one is not version or new]
            return f"a version named {name} already exists" if name in others else None

        def done(values: Values | None) -> None:
            if values is None:
                return
            at = captions.at
            if like is version:
                versions = (*captions.versions[:at], changed(values), *captions.versions[at + 1 :])
                self._change(versions, at, f"changing {key} of version {version.name}")
            else:
                at = min(at + 1, len(captions.versions))
                versions = (*captions.versions[:at], changed(values), *captions.versions[at:])
                self._change(versions, at, f"adding version {like.name}")

        meaning = "relative paths start at the folder of the frames" if key in FILES else allowed_text(key)
        fields = [Field(key, meaning, "" if version is None else typed(version, key, folder))]
        paths = folder if key in FILES else None
        await self.app.push_screen(
            Prompt(self.glyphs, f"{like.name}: {key}", fields, fault, paths=paths, files=True), done
        )

    def action_drop(self) -> None:
        """Remove the version from the list. This can be undone."""
        captions = self._captions
        if not self._is_read():
            return
        if captions.version is None:
            self.say("no version to remove")
            return
        name, at = captions.version.name, captions.at
        versions = captions.versions[:at] + captions.versions[at + 1 :]
        self._change(versions, max(0, min(at, len(versions) - 1)), f"removing version {name}")
        self.say(f"removed version {name}; u: undo")

    def _change(self, versions: tuple[Version, ...], at: int, name: str) -> None:
        captions = self._captions
        before = captions.versions, captions.at

        def restore() -> None:
            captions.versions, captions.at = before

        self.session.undo.append(Undo(name, restore))
        captions.versions, captions.at = versions, at
        self.session_changed()

    # Writing

    async def action_write(self) -> None:
        """Ask for a path, and write the captions there. A path that exists or is inside a source folder is refused."""
        captions = self._captions
        if not self._is_read():
            return
        if not captions.versions:
            self.say("no captions to write; i: type a caption")
            return

        def fault(values: Values) -> str | None:
            try:
                refuse_early([_path(values)], (".toml",), self._resolver.scope, option="")
            except MeshqcError as error:
                return str(error)
            return None

        def done(values: Values | None) -> None:
            if values is not None:
                self._write(_path(values))

        name = f"{safe(self._view.sequence.name.display).strip('._').replace('/', '_')}_captions.toml"
        fields = [Field("to", "a new file whose name ends in .toml", str(self.session.root.parent / name))]
        await self.app.push_screen(
            Prompt(self.glyphs, "write the captions", fields, fault, paths=Path.cwd(), files=True), done
        )

    def _write(self, path: Path) -> None:
        captions = self._captions
        try:
            text = captions_toml(captions.versions, Path(os.path.realpath(path.parent)))
            write_new(path, text.encode())
        except (MeshqcError, OSError) as error:
            self.say(f"not written: {error}")
            return
        captions.written = captions.versions
        self._show_words()
        command = f"meshqc captions {shlex.quote(str(self.session.root))} --captions {shlex.quote(str(path))}"
        self.say(f"written: {path.name}; to render the textures, run: {command} --output DIR")

    def action_stop(self) -> None:
        self._stop.set()


def _path(values: Values) -> Path:
    return Path(values["to"]).expanduser().absolute()


def _unread(case: CaptionCase) -> bool:
    """Return whether the version has been drawn, but has not been judged in all frames yet."""
    return case.lettered is not None and case.reading is None
