"""The screens that README shows, as SVG and PNG in fixtures/screens/, made from the demo data.

By hand: python -m tests.helpers.tui.readme_screens [NAME ...]. Look at each one, and at the same keys in 256 colours
(tests.helpers.tui.pictures), before you commit them.
"""

from __future__ import annotations

import argparse
import asyncio
import io
import os
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.helpers.tui.drawn import Drawn, drawn
from tests.helpers.tui.painting import pixels, svg
from tests.helpers.tui.pictures import screen, set_colours

_COLOURS = 64  # in a PNG, in an octree: rare ones such as a yellow letter stay, and soft edges lose little
FOLDER = Path(__file__).parents[3] / "fixtures" / "screens"


@dataclass(frozen=True, slots=True)
class Shown:
    """title: for those who can't see it; keys: Textual's names, from the main screen of a folder of the demo on."""

    title: str
    keys: Sequence[str]
    folder: str = "manta_broken"
    size: tuple[int, int] = (80, 24)


SCREENS = {
    "main": Shown(
        "Main screen: the whole sequence in a row, its frames, what was found, what answers it",
        ("number_sign", "8", "enter"),
    ),
    "finding": Shown(
        "A finding in full: what it is, what comes after the import, what to do", ("number_sign", "9", "enter", "enter")
    ),
    "side-by-side": Shown(
        "Viewer: frame 9 with its texture as it is, and beside it as the fix that is offered would make it",
        ("number_sign", "9", "enter", "v", "l", "4", "x", "tab"),
    ),
    "uv-map": Shown(
        "UV map of frame 14 over its texture: the faces that lie elsewhere than in the reference have level lines",
        ("number_sign", "1", "4", "enter", "U", "l", "2", "b"),
    ),
    "plots": Shown("Plots of drift, size and movement over the frames", ("number_sign", "1", "6", "enter", "d")),
    "compare": Shown(
        "Compare: frame 5 against the reference frame, block by block, and a picture of how far each part moved",
        ("number_sign", "5", "enter", "c", "1"),
        "manta",
    ),
    "texture": Shown(
        "The texture of the manta: a drawing of the sheet with islands, lettering boxes and arrows, and its figures",
        ("t",),
        "manta",
    ),
    "plan": Shown("The plan: what is staged, what it changes, what was refused", ("e", "p", "down", "down", "down")),
    "before-and-after": Shown("Before and after: what the corrected folder proved", ("e", "w", "enter")),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", choices=[*SCREENS, []])
    names = parser.parse_args().names or list(SCREENS)
    set_colours("truecolor")
    from inspector.demo.write import write_demo

    FOLDER.mkdir(exist_ok=True)
    root = Path(tempfile.gettempdir()) / "harbour"  # a short path, because screens show it
    root.mkdir()
    try:
        os.environ["XDG_CACHE_HOME"] = os.environ["XDG_STATE_HOME"] = str(root / "own")
        write_demo(root)
        for name in names:
            shown = SCREENS[name]
            picture = drawn(asyncio.run(screen(root / shown.folder, shown.keys, shown.size, ascii_only=False)))
            (FOLDER / f"{name}.svg").write_text(svg(picture, shown.title), encoding="utf-8")
            (FOLDER / f"{name}.png").write_bytes(_small_png(picture))
    finally:
        shutil.rmtree(root)


def _small_png(picture: Drawn) -> bytes:
    """With a table of its own colours: a third of the size."""
    from PIL import Image

    stream = io.BytesIO()
    few = Image.fromarray(pixels(picture)).quantize(_COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.save(stream, "PNG", optimize=True)
    return stream.getvalue()


if __name__ == "__main__":
    main()
