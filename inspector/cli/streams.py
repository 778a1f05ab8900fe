"""Choose the style of text on stdout and stderr, and draw a progress line."""

from __future__ import annotations

import os
import shutil
import sys
import time
from typing import TextIO

from inspector.names import safe
from inspector.report.text_style import TextStyle

_SECONDS_BETWEEN = 0.1
"""Minimum time between updates of the progress line, in seconds, so that updates don't overload a slow connection."""


def style_of(stream: TextIO, colour: str = "auto") -> TextStyle:
    """Choose the width, colours and character set of text for a stream.

    `colour` is "always", "never" or "auto". With "auto", text has colours if the stream is a terminal that supports
    them, unless NO_COLOR is set (no-color.org).
    """
    terminal = stream.isatty()
    capable = terminal and not os.environ.get("NO_COLOR") and os.environ.get("TERM", "dumb") != "dumb"
    ascii_only = "utf" not in stream.encoding.lower()
    return TextStyle(
        shutil.get_terminal_size().columns if terminal else 80,
        colour == "always" or (colour == "auto" and capable),
        ascii_only,
    )


class ProgressLine:
    """A progress line on stderr that is redrawn in place. Nothing is drawn if stderr is not a terminal."""

    def __init__(self) -> None:
        self._shown = ""
        self._next = time.monotonic() + _SECONDS_BETWEEN  # quick work shows no progress
        self._active = sys.stderr.isatty()

    def show(self, text: str) -> None:
        """Draw the text, escaped and cut to the terminal's width, unless the last draw was too recent."""
        if not self._active or time.monotonic() < self._next:
            return
        self._draw(safe(text)[: shutil.get_terminal_size().columns - 1])
        self._next = time.monotonic() + _SECONDS_BETWEEN

    def clear(self) -> None:
        if self._shown:
            self._draw("")
            sys.stderr.write("\r")
            sys.stderr.flush()

    def _draw(self, text: str) -> None:
        sys.stderr.write("\r" + text + " " * (len(self._shown) - len(text)))
        sys.stderr.flush()
        self._shown = text

    def __enter__(self) -> ProgressLine:
        return self

    def __exit__(self, *error: object) -> None:
        self.clear()
