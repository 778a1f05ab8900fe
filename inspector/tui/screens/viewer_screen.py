"""The viewer: a frame as a picture, with keys to turn the view, to play the sequence and to search.

Playback skips frames to keep its rate. The pictures are checked for flashes before and during playback.
"""

from __future__ import annotations

import time
from functools import partial

from textual.timer import Timer

from inspector.picture.flashing import Flash
from inspector.tui import keys
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.pictures.flash_watch import FlashesLooked, FlashWatch, look_for_flashes
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.read_ahead import PlaybackClock, ReadAhead
from inspector.tui.pictures.render_modes import Look
from inspector.tui.screens.camera_screen import CameraScreen
from inspector.tui.screens.uv_screen import UvScreen

RATES = (2.0, 8.0, 12.0, 15.0, 24.0, 25.0, 30.0)
USUAL_RATE = 24
CALM_RATE = 2.0
"""Maximum number of frames per second at which pictures can't flash, however they differ (see
`inspector.picture.flashing`)."""

_TICKS = 100.0  # maximum number of ticks per second, regardless of the stated rate


class ViewerScreen(CameraScreen):
    """A screen that shows one frame, or plays the sequence.

    If reading, drawing or sending a picture takes too long during playback, frames are skipped to keep the rate. The
    chosen finding doesn't change during playback, so that its marks stay visible.
    """

    KEYS = keys.VIEWER
    BINDINGS = keys.bindings(keys.VIEWER)

    _timer: Timer | None = None
    _looking = False
    _may_flash = False

    @property
    def rate(self) -> float:
        """Frames per second of playback."""
        return self.how_viewed.rate or float(self.session.settings.rate or USUAL_RATE)

    @property
    def playing(self) -> bool:
        return self._timer is not None

    def action_play(self) -> None:
        if self.session.calm:
            self.say("playback is off (--calm); the comma and full stop keys step through the frames")
            return
        if self.playing or self._looking:
            self._stop()
            return
        self.see_all()
        scene = None if self.drawn is None else self.scene(self.drawn, moving=False)
        if scene is None or len(self.view.facts) < 2:
            self.say("nothing to play")
        elif self.rate <= CALM_RATE or self._may_flash:
            self._start()
        else:
            self._looking = True
            self.show_place()
            self.work(partial(look_for_flashes, scene, self.rate, self.post_message, lambda: self._looking))

    def on_flashes_looked(self, message: FlashesLooked) -> None:
        if not self._looking:
            return
        self._looking = False
        if message.flash is not None:
            self._warn(message.flash)
        else:
            self._start()

    def _start(self) -> None:
        self._clock, self._count = PlaybackClock(self.view, self.row, self.rate), 0
        self._ahead = ReadAhead(self.source.store, self._clock, self.work)
        self._watch = FlashWatch()
        self._timer = self.set_interval(1.0 / min(self.rate, _TICKS), self._tick)
        self.show_place()

    def _stop(self) -> None:
        self._looking = False
        if self._timer is not None:
            self._timer.stop()
            self._timer = None
            self._ahead.stop()
            self.go_to_row(self.row)
        self.show_place()

    def _tick(self) -> None:
        """Show the newest frame that is due, if the previous picture has been drawn and sent."""
        self._ahead.go_on()
        if self.painter.busy or self.stopped_picture is not None:
            return
        count = self._ahead.newest(self._count)
        if count is not None:
            self._count = count
            self.go_to_row(self._clock.row(count), moving=True, choose=False)

    def show_picture(self, message: Painted) -> None:
        """Show a picture. If it would make playback flash, and the user has not allowed flashes, stop playback and show
        a warning instead."""
        flash = self._watch.flash(time.monotonic(), message.picture) if self.playing else None
        if flash is not None and not self._may_flash and self.rate > CALM_RATE:
            self._stop()
            self._warn(flash)
        else:
            super().show_picture(message)
            if self.playing:
                self._tick()  # after a slow picture there is no time to wait for the timer

    def _warn(self, flash: Flash) -> None:
        def done(answer: int | None) -> None:
            if answer == 1:
                self.how_viewed.rate = CALM_RATE
                self._start()
            elif answer == 2:
                self._may_flash = True
                self._start()
            self.show_place()

        what = "saturated red appears" if flash.red else "light and dark alternate"
        title = f"flashing: {what} more than three times per second"
        lines = [
            "don't play (the comma and full stop keys step through the frames)",
            f"play at {CALM_RATE:g} fps",
            f"play at {self.rate:g} fps anyway",
        ]
        self.app.push_screen(ChoiceDrawer(self.glyphs, title, lines), done)

    def stop_playback(self) -> None:
        """Stop playback, or the search for flashes that precedes it."""
        if self.playing or self._looking:
            self._stop()

    async def action_rate(self) -> None:
        rates = sorted({*RATES, self.rate})

        def done(answer: int | None) -> None:
            if answer is not None:
                self.stop_playback()
                self.how_viewed.rate = rates[answer]
                self.show_place()
                self.say(f"space: play at {self.rate:g} fps")

        lines = [f"{rate:g} fps" + (" (calm)" if rate == CALM_RATE else "") for rate in rates]
        await self.app.push_screen(ChoiceDrawer(self.glyphs, "play at", lines, rates.index(self.rate)), done)

    def state_words(self) -> str:
        playing = "calm" if self.session.calm else ""
        if self._looking:
            playing = "checking for flashes"
        elif self.playing:
            playing = f"playing at {self.rate:g} fps, {self._watch.count} fps shown"
        return ", ".join(filter(None, [super().state_words(), playing]))

    async def action_look(self) -> None:
        looks = list(Look)

        def done(answer: int | None) -> None:
            if answer is not None:
                self.look = self.session.view_state.look = looks[answer]
                self.show_place()
                self.draw()

        await self.app.push_screen(
            ChoiceDrawer(self.glyphs, "display", [one.value for one in looks], looks.index(self.look)), done
        )

    def action_behind(self) -> None:
        self.how_viewed.behind = not self.how_viewed.behind
        self.show_place()
        self.draw()

    def action_marks(self) -> None:
        self.how_viewed.marks = not self.how_viewed.marks
        self.draw()

    async def action_uv_map(self) -> None:
        """Show the frame's UV map. On return, show the frame whose map was shown last."""
        self.stop_playback()
        await self.app.push_screen(
            screen := UvScreen(self.session, self.glyphs, self.source, self.row), lambda _: self.go_to_row(screen.row)
        )
