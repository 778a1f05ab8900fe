"""A terminal that converts the bytes of each graphics protocol back into the picture on its screen.

The protocols are written from memory: the kitty graphics protocol with Unicode placeholders, iTerm2's inline images,
and the VT340's Sixel graphics.
"""

from __future__ import annotations

import base64
import io
import re
import unicodedata
import zlib
from collections.abc import Collection

import numpy as np
import pyte
from PIL import Image
from pyte.graphics import FG_BG_256
from textual.drivers.headless_driver import HeadlessDriver

from inspector.tui.driver import GraphicsKnown
from inspector.tui.graphics import Asked, Protocol
from inspector.tui.pictures.pixels import MARKS

_PLACEHOLDER = "\U0010eeee"
_SEQUENCES = re.compile(
    r"\x1bPtmux;(?P<passed>(?:[^\x1b]|\x1b\x1b)*)\x1b\\"
    r"|\x1b_G(?P<kitty>[^\x1b]*)\x1b\\"
    r"|\x1bP(?P<sixel>[\d;]*q[^\x1b]*)\x1b\\"
    r"|\x1b\]1337;(?P<inline>[^\x07\x1b]*)(?:\x07|\x1b\\)"
    r"|\x1b\[(?P<asked>c|16t)"
    r"|\x1b\[\?1049(?P<other>[hl])"
    r"|\x1b\[[<>=]\d*u|\x1b\[\?\d+\$p"  # keyboard protocol and modes, which the screen below doesn't know
)


class _Cells(pyte.Screen):
    """A screen that records which cells are written. As in real terminals, a saved cursor can be restored
    repeatedly."""

    def __init__(self, columns: int, rows: int) -> None:
        super().__init__(columns, rows)
        self.written: list[tuple[int, int]] = []

    def draw(self, data: str) -> None:
        for letter in data:
            if not unicodedata.combining(letter):
                self.written.append((self.cursor.y, min(self.cursor.x, self.columns - 1)))
            super().draw(letter)

    def save_cursor(self) -> None:
        self.savepoints.clear()
        super().save_cursor()

    def restore_cursor(self) -> None:
        super().restore_cursor()
        self.save_cursor()


class PixelTerminal:
    """A terminal that draws pixels.

    Attributes:
        protocols: The graphics protocols that the terminal knows.
        cell: Width and height of a cell in pixels.
        tmux: Whether tmux is between the program and the terminal. tmux answers queries itself, draws no pixels, and
            passes on what is meant for the terminal.
        images: The pictures of the kitty graphics protocol, by id.
        answers: Answers to the program's queries. The program has not received these answers yet.
        received: Number of bytes of pictures so far.
    """

    def __init__(
        self,
        columns: int,
        rows: int,
        protocols: Collection[Protocol],
        *,
        cell: tuple[int, int] = (4, 9),
        tmux: bool = False,
    ) -> None:
        self.protocols, self.cell, self.tmux = protocols, cell, tmux
        self.images: dict[int, np.ndarray] = {}
        self.answers = ""
        self.received = 0
        self._placed: dict[int, tuple[int, int]] = {}
        self._sending: tuple[dict[str, str], str] | None = None
        self.resize(columns, rows)

    def resize(self, columns: int, rows: int) -> None:
        self._cells = _Cells(columns, rows)
        self._stream = pyte.Stream(self._cells)
        self._clear()

    def _clear(self) -> None:
        rows, columns = self._cells.lines, self._cells.columns
        self._pixels = np.zeros((rows * self.cell[1], columns * self.cell[0], 3), np.uint8)
        self._covered = np.zeros(self._pixels.shape[:2], bool)

    @property
    def rows(self) -> list[str]:
        """Return the text, with spaces instead of the placeholder characters of pictures."""
        return [re.sub(f"{_PLACEHOLDER}[{MARKS}]*", " ", row) for row in self._cells.display]

    def feed(self, text: str) -> None:
        at = 0
        for found in _SEQUENCES.finditer(text):
            self._write(text[at : found.start()])
            at = found.end()
            self._do(found)
        self._write(text[at:])

    def _write(self, text: str) -> None:
        self._stream.feed(text)
        wide, high = self.cell
        for row, column in self._cells.written:
            self._covered[row * high : (row + 1) * high, column * wide : (column + 1) * wide] = False
        self._cells.written.clear()

    def _do(self, found: re.Match[str], *, passed: bool = False) -> None:
        own = passed or not self.tmux
        if (inner := found["passed"]) is not None:
            if self.tmux:
                for one in _SEQUENCES.finditer(inner.replace("\x1b\x1b", "\x1b")):
                    self._do(one, passed=True)
        elif found["other"]:
            self._cells.reset()
            self._clear()
        elif found["asked"] == "c":
            four = ";4" if Protocol.SIXEL in self.protocols and own else ""
            self.answers += f"\x1b[?62{four};22c"
        elif found["asked"]:
            self.answers += f"\x1b[6;{self.cell[1]};{self.cell[0]}t"
        elif not own:
            assert found["kitty"] is None, "tmux takes it for a title"
        elif found["kitty"] is not None and Protocol.KITTY in self.protocols:
            self.received += len(found[0])
            self._kitty(found["kitty"])
        elif found["inline"] is not None and Protocol.INLINE in self.protocols:
            self.received += len(found[0])
            self._inline(found["inline"])
        elif found["sixel"] is not None and Protocol.SIXEL in self.protocols:
            self.received += len(found[0])
            self._draw(*sixel_picture(found["sixel"]))

    def _kitty(self, words: str) -> None:
        head, _, data = words.partition(";")
        keys = dict(part.split("=") for part in head.split(","))
        if self._sending is not None:
            keys, data = self._sending[0] | {"m": keys["m"]}, self._sending[1] + data
            self._sending = None
        if keys.get("m") == "1":
            assert len(data) % 4096 == 0  # at most 4096 per sequence, and only the last may be shorter
            self._sending = keys, data
            return
        number = int(keys["i"])
        if keys["a"] in "tT":
            self.images[number] = _decoded(base64.b64decode(data, validate=True), keys)
            if keys["a"] == "T":
                assert keys["U"] == "1"
                self._placed[number] = int(keys["c"]), int(keys["r"])
        elif keys["a"] == "d" and keys["d"] == "I":
            self.images.pop(number, None)
        failed = keys["a"] == "p" and "U" in keys and "P" in keys
        if failed or keys.get("q", "0") == "0":
            placement = f",p={keys['p']}" if "p" in keys else ""
            said = "EINVAL: a virtual placement has no parent" if failed else "OK"
            self.answers += f"\x1b_Gi={number}{placement};{said}\x1b\\"

    def _inline(self, words: str) -> None:
        if words == "Capabilities":
            sixel = "Sx" if Protocol.SIXEL in self.protocols else ""
            self.answers += f"\x1b]1337;Capabilities=T3CwLrMSc7UUw9Ts3BFGsGoSyHNo{sixel}F\x1b\\"
            return
        head, _, data = words.removeprefix("File=").partition(":")
        keys = dict(part.split("=") for part in head.split(";"))
        decoded = base64.b64decode(data, validate=True)
        assert int(keys["size"]) == len(decoded)
        size = int(keys["width"]) * self.cell[0], int(keys["height"]) * self.cell[1]
        picture = np.asarray(Image.open(io.BytesIO(decoded)).convert("RGB").resize(size, Image.Resampling.NEAREST))
        self._draw(picture, np.ones(picture.shape[:2], bool))

    def _draw(self, picture: np.ndarray, drawn: np.ndarray) -> None:
        """Draw at the cursor, and move the cursor to the top left.

        Real terminals differ in where they leave the cursor, so the program must not rely on the cursor's position.
        """
        top, left = self._cells.cursor.y * self.cell[1], self._cells.cursor.x * self.cell[0]
        high, wide = np.minimum(picture.shape[:2], np.subtract(self._pixels.shape[:2], (top, left))).tolist()
        area = np.s_[top : top + high, left : left + wide]
        self._pixels[area][drawn[:high, :wide]] = picture[:high, :wide][drawn[:high, :wide]]
        self._covered[area] |= drawn[:high, :wide]
        self._cells.cursor.x = self._cells.cursor.y = 0

    def picture(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the pixels of the screen, (h, w, 3), and whether each pixel belongs to a picture, (h, w)."""
        pixels, covered = self._pixels.copy(), self._covered.copy()
        wide, high = self.cell
        scaled: dict[int, np.ndarray] = {}
        for row in range(self._cells.lines):
            number = down = across = -1
            for column in range(self._cells.columns):
                cell = self._cells.buffer[row][column]
                if not cell.data.startswith(_PLACEHOLDER):
                    number = -1
                    continue
                if cell.data == _PLACEHOLDER:  # without marks: the next column after the previous cell
                    if number != 16 + FG_BG_256[16:].index(cell.fg):
                        continue  # its marks are still to come
                    across += 1
                else:
                    number = 16 + FG_BG_256[16:].index(cell.fg)
                    down, across = (MARKS.index(mark) for mark in cell.data[1:])
                if number not in scaled:
                    columns, rows = self._placed[number]
                    image = Image.fromarray(self.images[number])
                    size = columns * wide, rows * high
                    scaled[number] = np.asarray(image.resize(size, Image.Resampling.NEAREST))
                part = scaled[number][down * high : (down + 1) * high, across * wide : (across + 1) * wide]
                area = np.s_[row * high : (row + 1) * high, column * wide : (column + 1) * wide]
                pixels[area], covered[area] = part, True
        return pixels, covered

    def take_answers(self) -> str:
        answers, self.answers = self.answers, ""
        return answers


def driver_on(terminal: PixelTerminal) -> type[HeadlessDriver]:
    """Return a driver class that writes to this terminal. When the app starts, the driver queries the terminal as if it
    were a real terminal."""

    class TerminalDriver(HeadlessDriver):
        is_headless = False

        def write(self, data: str) -> None:
            terminal.feed(data)

        def start_application_mode(self) -> None:
            super().start_application_mode()
            asked = Asked({"TMUX": "on"} if terminal.tmux else {})
            terminal.feed(f"\x1b[?1049h{asked.questions()}")
            assert asked.typed(terminal.take_answers()) == ""
            self.process_message(GraphicsKnown(asked.graphics))

    return TerminalDriver


def _decoded(data: bytes, keys: dict[str, str]) -> np.ndarray:
    if keys["f"] == "24":
        data = zlib.decompress(data) if keys.get("o") == "z" else data
        return np.frombuffer(data, np.uint8).reshape(int(keys["v"]), int(keys["s"]), 3)
    assert keys["f"] == "100"
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def sixel_picture(words: str) -> tuple[np.ndarray, np.ndarray]:
    """Decode the data between DCS and ST. Return the picture, (h, w, 3), and whether each pixel is set, (h, w)."""
    head, _, data = words.partition("q")
    assert head.split(";")[1] == "1"  # pixels that are not drawn stay as they are
    size = re.match(r'"1;1;(\d+);(\d+)', data)
    assert size is not None
    width, height = int(size[1]), int(size[2])
    picture = np.zeros((height + 6, width, 3), np.uint8)
    drawn = np.zeros(picture.shape[:2], bool)
    registers: dict[int, list[int]] = {}
    colour = x = y = 0
    for one in re.finditer(r"#(\d+)(?:;2;(\d+);(\d+);(\d+))?|!(\d+)([?-~])|([?-~])|([$-])", data[size.end() :]):
        if one[1]:
            colour = int(one[1])
            assert colour < 256
            if one[2]:
                registers[colour] = [int(one[at]) * 255 // 100 for at in (2, 3, 4)]
        elif one[8]:
            x, y = 0, y + 6 * (one[8] == "-")
        else:
            count, bits = int(one[5] or 1), ord(one[6] or one[7]) - 63
            for bit in range(6):
                if bits >> bit & 1:
                    picture[y + bit, x : x + count] = registers[colour]
                    drawn[y + bit, x : x + count] = True
            x += count
            assert x <= width
    assert not drawn[height:].any()
    return picture[:height], drawn[:height]
