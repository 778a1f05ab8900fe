"""The one table of keys: bindings, footers and the help page are all made from it."""

from __future__ import annotations

from dataclasses import dataclass

from textual.binding import Binding, BindingType


@dataclass(frozen=True, slots=True)
class Key:
    """keys: as the terminal names them. shown: as people call them. help: a sentence (empty: told with the key before).

    label: a word for the footer, empty: help only. pair: both keys, where the footer names two of them by one label.
    An action with `{}` takes the key itself as its argument (1-9). alone: a sentence about this key by itself, where
    `help` is about several, or none.
    """

    keys: tuple[str, ...]
    shown: str
    action: str
    label: str
    help: str
    pair: str = ""
    alone: str = ""


LIST = (
    Key(("up",), "up, down", "move(-1)", "", "One line up or down."),
    Key(("down",), "down", "move(1)", "", ""),
    Key(("pageup",), "page up, page down", "page(-1)", "", "One page up or down."),
    Key(("pagedown",), "page down", "page(1)", "", ""),
    Key(("home",), "home, end", "edge(-1)", "", "To the first or the last line."),
    Key(("end",), "end", "edge(1)", "", ""),
)

_FIX = Key(
    tuple("123456789"), "1-9", "app.fix({})", "stage fix", "Stage the fix with this number, or take it out again."
)
_EXACT = Key(("e",), "e", "app.stage_exact", "exact fixes", "Stage every exact fix that answers a finding.")
_PLAN = Key(("p",), "p", "app.plan", "plan", "What is staged, what it changes, what was refused and why.")
_WRITE = Key(("w",), "w", "app.write", "write", "Write the corrected folder, read it back and prove it.")
_HELP = Key(("question_mark",), "?", "app.help", "help", "This page.", alone="All signs and keys, as a page.")
_ACTIONS = Key(("colon",), ":", "app.actions", "", "Every action of this screen by its name.")
_SCROLL = Key((), "arrows", "", "scroll", "")
_BACK = Key(("escape", "q"), "q, esc", "back", "back", "Back to where you came from.", pair="q")

_FRAMES = (
    Key(("g",), "g", "go", "go to", "Go to a frame by its number."),
    Key(
        ("n",),
        "n, b",
        "problem(1)",
        "problem",
        "To the next error or warning, or back to the one before.",
        pair="n b N B",
        alone="To the next error or warning.",
    ),
    Key(("b",), "b", "problem(-1)", "", "", alone="Back to the error or warning before."),
    Key(
        ("N",),
        "N, B",
        "same_check(1)",
        "",
        "To what the same check found next, or before.",
        alone="To what the same check found next.",
    ),
    Key(("B",), "B", "same_check(-1)", "", "", alone="Back to what the same check found before."),
    Key(("k",), "k", "mark", "mark", "Mark the frame under the cursor, or take the mark away."),
    Key(("j",), "j", "next_mark", "marked", "To the next marked frame."),
)
_FIXES = (
    _FIX,
    _EXACT,
    _PLAN,
    _WRITE,
)
MAIN = (
    *_FRAMES,
    *_FIXES,
    Key(("enter",), "enter", "read", "read", "The finding in full: what it is, where, what answers it."),
    Key(
        ("tab",),
        "tab, shift+tab",
        "app.focus_next",
        "pane",
        "Between frames, findings and sequences.",
        pair="tab",
        alone="To the next pane: frames, findings, sequences.",
    ),
    Key(("shift+tab",), "shift+tab", "app.focus_previous", "", "", alone="To the pane before."),
    Key(
        ("left",),
        "left, right",
        "strip(-1)",
        "",
        "Along the strip that shows the whole sequence.",
        alone="One piece back along the strip of the whole sequence.",
    ),
    Key(("right",), "right", "strip(1)", "", "", alone="One piece on along the strip of the whole sequence."),
    Key(("f",), "f", "filter", "filter", "Which frames the table shows: all, or those with findings."),
    Key(("s",), "s", "sort", "sort", "Sort the table by a column."),
    Key(("d",), "d", "plots", "plots", "Plots over the frames: drift, size, speed, counts, files."),
    Key(("v",), "v", "view", "view", "The frame as a picture, to be turned and played."),
    Key(("u",), "u", "uv_map", "UVs", "The UV map of the frame under the cursor."),
    Key(("t",), "t", "fit", "texture", "What texture and lettering it wants; a template to draw on."),
    Key(
        ("o",),
        "o",
        "compare",
        "compare",
        "What differs from another frame, or in a corrected folder.",
    ),
    Key(("r",), "r", "reference", "reference", "Hold all frames against the frame under the cursor."),
    Key(("l",), "l", "app.live", "live", "Watch an export to this folder: an alarm at the first error."),
    Key(("a",), "a", "app.again", "", "Read the folder again."),
    Key(("c",), "c", "app.stop_reading", "", "Stop reading."),
    Key(("colon",), ":", "app.actions", "actions", "Every action of a screen by its name: type a part of it."),
    _HELP,
    Key(("q",), "q", "app.leave", "quit", "Leave. Nothing is ever written but by the key w."),
)
_STEPS = (
    Key(("comma",), ", .", "step(-1)", "frame", "One frame back or on.", pair=", .", alone="One frame back."),
    Key(("full_stop",), ".", "step(1)", "", "", alone="One frame on."),
    Key(("pageup",), "page up, page down", "step(-10)", "", "Ten frames back or on.", alone="Ten frames back."),
    Key(("pagedown",), "page down", "step(10)", "", "", alone="Ten frames on."),
    Key(("home",), "home, end", "edge(-1)", "", "To the first or the last frame.", alone="To the first frame."),
    Key(("end",), "end", "edge(1)", "", "", alone="To the last frame."),
    *_FRAMES,
)
_PICTURE_END = (
    Key(("c",), "c", "cells", "", "Blocks with more shades, or dots with finer lines."),
    _ACTIONS,
    _HELP,
    _BACK,
)
_CAMERA = (
    Key(
        ("left",),
        "arrows",
        "arrow(-1,0,0)",
        "turn",
        "Turn the view, or move it (m).",
        alone="Turn or move (m) to the left.",
    ),
    Key(("right",), "arrows", "arrow(1,0,0)", "", "", alone="Turn or move (m) to the right."),
    Key(("up",), "arrows", "arrow(0,1,0)", "", "", alone="Turn or move (m) up."),
    Key(("down",), "arrows", "arrow(0,-1,0)", "", "", alone="Turn or move (m) down."),
    Key(("m",), "m", "arrows", "", "Let the arrows move the view instead of turning it, and back."),
    Key(
        ("shift+left",),
        "shift+arrows",
        "arrow(-1,0,1)",
        "",
        "What the arrows don't do: move, or turn.",
        alone="To the left by what the arrow doesn't do: move, or turn.",
    ),
    Key(
        ("shift+right",),
        "shift+arrows",
        "arrow(1,0,1)",
        "",
        "",
        alone="To the right by what the arrow doesn't do: move, or turn.",
    ),
    Key(("shift+up",), "shift+arrows", "arrow(0,1,1)", "", "", alone="Up by what the arrow doesn't do: move, or turn."),
    Key(
        ("shift+down",),
        "shift+arrows",
        "arrow(0,-1,1)",
        "",
        "",
        alone="Down by what the arrow doesn't do: move, or turn.",
    ),
    Key(("plus", "equals_sign"), "+, -", "zoom(1)", "zoom", "Closer, or farther away.", pair="+ -", alone="Closer."),
    Key(("minus",), "-", "zoom(-1)", "", "", alone="Farther away."),
    Key(("f",), "f", "fit", "fit", "Fit the frame into the picture; once more: the whole sequence."),
    Key(("v",), "v", "views", "views", "Our list of views, and perspective on or off."),
)
VIEWER = (
    *_CAMERA,
    Key(("l",), "l", "look", "look", "Shaded, wires, points, with its texture, or with our grid."),
    Key(("space",), "space", "play", "play", "Play from this frame on, or stop."),
    Key(("s",), "s", "rate", "speed", "How many frames a second are played."),
    *_STEPS,
    Key(("r",), "r", "behind", "behind", "Show the reference frame behind, or take it away."),
    Key(("x",), "x", "marks", "", "Mark what the finding is about, or don't."),
    Key(("u",), "u", "uv_map", "UV map", "The UV map of this frame."),
    *_PICTURE_END,
)
UV_MAP = (
    Key(
        ("left",),
        "arrows",
        "move(-1,0)",
        "move",
        "Move about in the texture.",
        alone="Move to the left in the texture.",
    ),
    Key(("right",), "arrows", "move(1,0)", "", "", alone="Move to the right in the texture."),
    Key(("up",), "arrows", "move(0,1)", "", "", alone="Move up in the texture."),
    Key(("down",), "arrows", "move(0,-1)", "", "", alone="Move down in the texture."),
    Key(("plus", "equals_sign"), "+, -", "zoom(1)", "zoom", "Closer, or farther away.", pair="+ -", alone="Closer."),
    Key(("minus",), "-", "zoom(-1)", "", "", alone="Farther away."),
    Key(("f",), "f", "fit", "fit", "Fit the whole map into view; once more: the unit square."),
    Key(("l",), "l", "under", "look", "The map alone, over its texture, or over our grid."),
    Key(("m",), "m", "material", "material", "The faces of one material, or of all."),
    Key(("r",), "r", "compare", "reference", "Draw the reference's map as well, and what lies elsewhere."),
    *_STEPS,
    *_PICTURE_END,
)
COMPARE = (
    *_CAMERA,
    *_STEPS,
    Key(("enter",), "enter", "read", "read", "All that differs, as a page."),
    *_PICTURE_END,
)
PLOTS = (
    Key(
        ("left",),
        "left, right",
        "along(-1)",
        "along",
        "To the column before, or to the next one.",
        pair="left right",
        alone="To the column before.",
    ),
    Key(("right",), "right", "along(1)", "", "", alone="To the next column."),
    *_STEPS,
    Key(
        ("plus", "equals_sign"),
        "+, -",
        "zoom(1)",
        "zoom",
        "Half as many frames about the cursor, or twice as many.",
        pair="+ -",
        alone="Half as many frames about the cursor.",
    ),
    Key(("minus",), "-", "zoom(-1)", "", "", alone="Twice as many frames about the cursor."),
    Key(
        ("shift+left",),
        "shift+left, shift+right",
        "pan(-1)",
        "",
        "Move the window over the frames.",
        alone="Move the window back over the frames.",
    ),
    Key(("shift+right",), "shift+right", "pan(1)", "", "", alone="Move the window on over the frames."),
    Key(
        ("less_than_sign",),
        "<, >",
        "pan(-1)",
        "move",
        "The same, where shift with arrows doesn't arrive.",
        pair="< >",
        alone="Move the window back over the frames.",
    ),
    Key(("greater_than_sign",), ">", "pan(1)", "", "", alone="Move the window on over the frames."),
    Key(("f",), "f", "fit", "all", "See all frames."),
    Key(tuple("123456"), "1-6", "panel({})", "curves", "Which curves: drift, centre, size, speed, counts, files."),
    Key(("d", "tab"), "d, tab", "next_panel(1)", "", "The next curves."),
    _ACTIONS,
    _HELP,
    _BACK,
)
FIT = (
    Key(("m",), "m", "material", "material", "What another material wants."),
    Key(
        ("w",),
        "w",
        "template",
        "write a template",
        "Write a picture to draw its texture on: islands, arrows, boxes.",
    ),
    Key(("c",), "c", "stop", "stop", "Stop working it out."),
    _SCROLL,
    _ACTIONS,
    _HELP,
    _BACK,
)
FINDING = (*_FIXES, _SCROLL, _BACK)
PLAN = (
    Key(("u", "delete"), "u", "take_out", "take out", "Take the step under the cursor out of the plan."),
    Key(
        ("tab",),
        "tab",
        "app.focus_next",
        "pane",
        "Between the steps and what one of them does.",
        alone="To the next pane: frames, findings, sequences.",
    ),
    _EXACT,
    _WRITE,
    _BACK,
)
PROMPT = (
    Key(("enter",), "enter", "", "go on", "Take what was typed."),
    Key(("escape", "ctrl+c"), "esc, ctrl+c", "back", "back", "Back without a change."),
)
PROMPT_OF_SEVERAL = (Key((), "tab", "", "next line", ""), *PROMPT)
CHOICE = (
    Key(
        tuple("1234567890"),
        "1-9, 0",
        "choose({})",
        "choose",
        "Choose the line with this number.",
        pair="number, or up down enter",
    ),
    Key(("enter",), "enter", "choose_cursor", "", "Choose the line under the cursor."),
    _BACK,
)
ACTIONS = (
    Key(("up",), "up, down", "move(-1)", "choose", "To another line.", pair="up down"),
    Key(("down",), "down", "move(1)", "", ""),
    *PROMPT,
)
WRITING = (Key(("c",), "c", "app.stop_writing", "stop", "Stop writing; nothing is left under the final name."),)
PAGE = (_SCROLL, _BACK)

HELP = (
    ("Everywhere", LIST),
    ("Main screen", MAIN),
    ("Viewer", VIEWER),
    ("UV map", UV_MAP),
    ("Plots", PLOTS),
    ("Compare", COMPARE),
    ("Texture and lettering", FIT),
    ("Plan", PLAN),
    ("While writing", WRITING),
    ("Where something is typed", PROMPT),
    ("Where something is chosen", CHOICE),
    ("Where an action is looked for", ACTIONS),
)
"""The help page: headings and the keys below them."""


def bindings(keys: tuple[Key, ...]) -> list[BindingType]:
    """Textual's bindings for some rows of the table.

    With priority, an action is done before the next key is looked at. Without, keys that arrive in one piece over a
    slow link would overtake it: of `g14` the digits would still reach the screen below the question.
    """
    return [
        Binding(name, key.action.format(name), key.label, show=False, priority=True)
        for key in keys
        if key.action
        for name in key.keys
    ]
