"""Draw the screens for the README from the demo data, as SVG and PNG in fixtures/screens/.

An animated PNG shows how problems are found, fixed and verified.

Run by hand: `python -m tests.helpers.tui.readme_screens [NAME ...]`. Before you commit the images, look at each of
them, and at the same screens in 256 colours (tests.helpers.tui.pictures).
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
from tests.helpers.tui.pictures import screen, screens, set_colours

_COLOURS = 64  # of a PNG, chosen by octree: rare colours such as a yellow letter stay, and soft edges lose little
FOLDER = Path(__file__).parents[3] / "fixtures" / "screens"


@dataclass(frozen=True, slots=True)
class Shown:
    """A screen to draw.

    Attributes:
        title: The title for people who can't see the image.
        keys: The keys to press on the main screen, as Textual names them.
        folder: The folder of the demo to open.
        size: Columns and rows.
    """

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
        "A finding in full: what you would see, what it is, what to do", ("number_sign", "9", "enter", "enter")
    ),
    "side-by-side": Shown(
        "Viewer: frame 9 with its texture as it is, and beside it as the fix that is offered would make it",
        ("number_sign", "9", "enter", "v", "h", "tab"),
    ),
    "uv-map": Shown(
        "UV map of frame 14 over its texture: faces whose UVs differ from the reference's are striped",
        ("number_sign", "1", "4", "enter", "U", "l", "2", "b"),
    ),
    "plots": Shown("Plots of drift, size and movement over the frames", ("number_sign", "1", "6", "enter", "d")),
    "compare": Shown(
        "Compare: frame 5 with the reference frame, block by block, and a picture of how far each part moved",
        ("number_sign", "5", "enter", "c", "1"),
        "manta",
    ),
    "texture": Shown(
        "The texture of the manta: a drawing of the sheet with islands, lettering boxes and arrows, and its figures",
        ("t",),
        "manta",
    ),
    "plan": Shown("The plan: what is staged, what it changes, what was refused", ("e", "p", "down", "down", "down")),
    "before-and-after": Shown(
        "After writing: errors before and after, what was verified, and what is left", ("e", "w", "enter")
    ),
}

ANIMATION = "find-fix-verify"
STEPS = (
    ((), "meshqc manta_broken", "opens on the worst finding", 3.0),
    (("number_sign", "9", "enter"), "# 9", "goes to a frame", 2.0),
    (("enter",), "enter", "what you would see, what it is, what to do", 4.0),
    (("q", "v", "h"), "v", "the frame with its texture: the UVs are wrong", 3.5),
    (("tab",), "tab", "before, and after the fix that is offered", 3.0),
    *(((("down",), "arrows", "turn both", 0.5),) * 3),
    (("down",), "arrows", "turn both", 3.0),
    (("q", "1"), "1", "stages that fix", 2.0),
    (("e",), "e", "stages every lossless fix that can be applied", 2.0),
    (("p",), "p", "the plan: what is staged, and what it changes", 4.0),
    (("q", "w"), "w", "asks where to write", 2.0),
    (("enter",), "enter", "writes a corrected folder, reads it back and verifies it", 5.0),
)
"""For each step of the animation: the keys, their label, what they do, and how long the picture is shown, in
seconds."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", choices=[*SCREENS, ANIMATION, []])
    names = parser.parse_args().names or [*SCREENS, ANIMATION]
    set_colours("truecolor")
    from inspector.demo.folders import write_demo

    FOLDER.mkdir(exist_ok=True)
    root = Path(tempfile.gettempdir()) / "harbour"  # a short path, because screens show it
    root.mkdir()
    try:
        os.environ["XDG_CACHE_HOME"] = str(root / "own")
        write_demo(root)
        for name in names:
            # Start without the state of the previous picture: its camera, its cursor, and the folder that it wrote.
            os.environ["XDG_STATE_HOME"] = str(root / "own" / name)
            shutil.rmtree(root / "manta_broken_fixed", ignore_errors=True)
            if name == ANIMATION:
                (FOLDER / f"{name}.png").write_bytes(asyncio.run(_animated(root / "manta_broken")))
                continue
            shown = SCREENS[name]
            picture = drawn(asyncio.run(screen(root / shown.folder, shown.keys, shown.size, ascii_only=False)))
            (FOLDER / f"{name}.svg").write_text(svg(picture, shown.title), encoding="utf-8")
            (FOLDER / f"{name}.png").write_bytes(_small_png(picture))
    finally:
        shutil.rmtree(root)


async def _animated(folder: Path) -> bytes:
    """Return an animated PNG (APNG, in ISO/IEC 15948 since 2025). All pictures share one colour table."""
    from PIL import Image
    from rich.segment import Segment
    from rich.style import Style
    from textual.strip import Strip

    images, seen = [], screens(folder, [keys for keys, *_ in STEPS], (80, 24))
    for (_, key, words, _), lines in zip(STEPS, [one async for one in seen], strict=True):
        key_style = Style(color="black", bgcolor="bright_yellow", bold=True)
        below = Strip([Segment(" "), Segment(f" {key} ", key_style), Segment(f"  {words}", Style(bold=True))])
        blank = Strip.blank(80)
        images.append(Image.fromarray(pixels(drawn([*lines, blank, below.adjust_cell_length(80)]))))
    # The colour table is made from all pictures together.
    sheet = Image.new("RGB", (images[0].width, sum(one.height for one in images)))
    for at, one in enumerate(images):
        sheet.paste(one, (0, at * one.height))
    table = sheet.quantize(_COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    first, *others = (one.quantize(palette=table, dither=Image.Dither.NONE) for one in images)
    stream = io.BytesIO()
    durations = [round(1000 * seconds) for *_, seconds in STEPS]
    first.save(stream, "PNG", save_all=True, append_images=others, duration=durations, loop=0, optimize=True)
    return stream.getvalue()


def _small_png(picture: Drawn) -> bytes:
    """Return a PNG with a colour table. Without the table, the file would be three times as large."""
    from PIL import Image

    stream = io.BytesIO()
    few = Image.fromarray(pixels(picture)).quantize(_COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.save(stream, "PNG", optimize=True)
    return stream.getvalue()


if __name__ == "__main__":
    main()
