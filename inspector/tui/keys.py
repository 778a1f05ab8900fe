"""The table of keys, from which bindings, footers, the list of commands and the help page are made.

A letter means the same on every screen that has it. Movement, search and leaving are as in less and vi.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import takewhile

from textual.binding import Binding, BindingType

_SHOWN = {
    "question_mark": "?",
    "colon": ":",
    "slash": "/",
    "comma": ",",
    "full_stop": ".",
    "plus": "+",
    "equals_sign": "=",
    "minus": "-",
    "less_than_sign": "<",
    "greater_than_sign": ">",
    "asterisk": "*",
    "number_sign": "#",
    "apostrophe": "'",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "pageup": "page up",
    "pagedown": "page down",
    "escape": "esc",
    "delete": "del",
}
"""Textual's name of a key -> its usual name, where they differ."""


@dataclass(frozen=True, slots=True)
class Key:
    """One command of a screen.

    Attributes:
        keys: The keys that run it, as Textual names them; the footer may show only the first.
        action: Textual's action, in which `{}` is replaced by the key itself (1-9).
        name: Name of the command in the footer, the list of commands and the help.
        help: One sentence about the command.
        footer: The keys as the footer shows them, such as "n N"; empty if the footer leaves the command out.
        synonyms: Other words by which the list of commands finds it.
    """

    keys: tuple[str, ...]
    action: str
    name: str
    help: str
    footer: str = ""
    synonyms: str = ""

    @property
    def shown(self) -> str:
        """The keys by their usual names: `j, down`, or `1-9` for consecutive digits."""
        if len(self.keys) > 2 and all(key.isdigit() for key in self.keys):
            digits = [int(key) for key in self.keys]
            run = list(takewhile(lambda pair: pair[1] == digits[0] + pair[0], enumerate(digits)))
            rest = "".join(f", {digit}" for digit in digits[len(run) :])
            return f"{digits[0]}-{run[-1][1]}{rest}"
        return ", ".join(_SHOWN.get(key, key) for key in self.keys)


LIST = (
    Key(("j", "down"), "move(1)", "down", "One line down."),
    Key(("k", "up"), "move(-1)", "up", "One line up."),
    Key(("pagedown",), "page(1)", "page down", "One page down."),
    Key(("pageup",), "page(-1)", "page up", "One page up."),
    Key(("ctrl+d",), "page(0.5)", "half page down", "Half a page down."),
    Key(("ctrl+u",), "page(-0.5)", "half page up", "Half a page up."),
    Key(("g", "home"), "edge(-1)", "first line", "To the first line.", synonyms="top start begin"),
    Key(("G", "end"), "edge(1)", "last line", "To the last line.", synonyms="bottom"),
)
"""Keys of lists and pages."""

_HELP = Key(("question_mark",), "app.help", "help", "All signs and keys, those of this screen first.", "?")
_COMMANDS = Key(
    ("colon",), "app.commands", "more", "Every command by its name; a number goes to that frame.", ":", "actions menu"
)
_REDRAW = Key(("ctrl+l",), "app.redraw", "redraw", "Draw the whole screen again.", synonyms="refresh repaint clear")
_SUSPEND = Key(("ctrl+z",), "app.suspend_process", "suspend", "Back to the shell; `fg` returns.", synonyms="shell")
_BACK = Key(("q", "escape"), "back", "back", "Back to where you came from.", "q", "close leave")
_UNDO = Key(("u",), "app.undo", "undo", "Undo the last change: staging, mark, filter, reference.", "u", "revert")
_FIX = Key(tuple("123456789"), "app.fix({})", "stage fix", "Stage the fix with this number, or unstage it.", "1-9")
_LOSSLESS = Key(
    ("e",),
    "app.stage_lossless",
    "fix",
    "Stage every lossless fix that answers a finding.",
    "e",
    "exact safe all",
)
_PLAN = Key(
    ("p",), "app.plan", "plan", "What is staged, what it changes, what was refused and why.", "p", "staged fixes steps"
)
_WRITE = Key(
    ("w",),
    "app.write",
    "write",
    "Write the corrected folder, read it back and verify it.",
    "w",
    "save deliver output export",
)
_COPY = Key(
    ("y",),
    "app.copy",
    "copy",
    "Copy the file's path, the finding or a command line to the clipboard.",
    synonyms="yank path clipboard",
)
_EDITOR = Key(
    ("E",),
    "app.editor",
    "editor",
    "Open the file in $EDITOR, at the line of the finding.",
    synonyms="edit vi line",
)
_GENERAL = (_COMMANDS, _HELP, _REDRAW, _SUSPEND, _BACK)

_FRAMES = (
    Key(
        ("slash",),
        "search",
        "find",
        "Search findings, files and materials; without text, end the search.",
        "/",
        "search grep filter text",
    ),
    Key(
        ("n",),
        "next_match(1)",
        "next",
        "Next match of the search; without one, the next error or warning.",
        "n",
        "problem error warning match",
    ),
    Key(
        ("N",),
        "next_match(-1)",
        "previous",
        "Previous match of the search; without one, the previous error or warning.",
        synonyms="problem error warning match back",
    ),
    Key(
        ("right_square_bracket",),
        "problem(1)",
        "next problem",
        "The next error or warning, regardless of the search.",
        synonyms="error warning jump",
    ),
    Key(
        ("left_square_bracket",),
        "problem(-1)",
        "previous problem",
        "The previous error or warning, regardless of the search.",
        synonyms="error warning jump",
    ),
    Key(
        ("asterisk",),
        "same_check",
        "same problem",
        "Search for what the same check found; n and N go through it.",
        synonyms="check kind",
    ),
    Key(("number_sign",), "go", "go to frame", "Go to a frame by its number.", synonyms="jump number"),
    Key(("m",), "mark", "mark", "Mark the frame under the cursor, or unmark it.", synonyms="bookmark"),
    Key(("apostrophe",), "next_mark", "next mark", "The next marked frame.", synonyms="bookmark jump"),
    _UNDO,
    _COPY,
    _EDITOR,
)
_OPEN_FIX = Key(
    tuple("123456789"), "app.fix({})", "stage fix", "Stage the fix with this number on the card, or unstage it."
)
MAIN = (
    _LOSSLESS,
    _WRITE,
    Key(
        ("v",),
        "view",
        "view",
        "The frame as a picture, to turn and play.",
        "v",
        "viewer 3d preview",
    ),
    Key(("enter",), "read", "details", "The finding in full: what it is, where, what fixes it.", "enter", "read open"),
    *_FRAMES,
    _PLAN,
    _OPEN_FIX,
    Key(("tab",), "app.focus_next", "next pane", "To the next pane: frames, findings, sequences.", synonyms="focus"),
    Key(("shift+tab",), "app.focus_previous", "previous pane", "To the previous pane.", synonyms="focus"),
    Key(("right",), "strip(1)", "strip right", "One cell on along the strip of the whole sequence."),
    Key(("left",), "strip(-1)", "strip left", "One cell back along the strip of the whole sequence."),
    Key(("f",), "filter", "filter", "Which frames the table shows.", synonyms="show hide only"),
    Key(("s",), "sort", "sort", "Sort the table by a column.", synonyms="order worst"),
    Key(("d",), "plots", "plots", "Curves over the frames: drift, size, speed, counts, files.", synonyms="graph"),
    Key(("U",), "uv_map", "UV map", "The UV map of the frame under the cursor.", synonyms="uvs islands layout"),
    Key(
        ("t",), "fit", "texture", "Texture and lettering fit; a template to draw on.", synonyms="template lettering fit"
    ),
    Key(("c",), "compare", "compare", "Compare with another frame, or with a corrected folder.", synonyms="diff"),
    Key(
        ("X",),
        "compare_export",
        "compare exports",
        "Compare this export with the one before it: what changed, what got worse.",
        synonyms="diff version last previous",
    ),
    Key(
        ("R",),
        "reference",
        "set reference",
        "Make this frame the reference that all others are compared with.",
        synonyms="base",
    ),
    Key(("r",), "app.again", "read again", "Read the folder again; what is staged is kept.", synonyms="reload refresh"),
    Key(("L",), "app.live", "live", "Watch an export into this folder: an alarm at the first error.", synonyms="watch"),
    Key(("a",), "app.alarms", "alarms", "What went wrong in the watched export, in order.", synonyms="live errors"),
    Key(("o",), "app.open", "open", "Open another folder; recent folders are listed first.", synonyms="folder load"),
    _COMMANDS,
    _HELP,
    Key(("ctrl+c",), "app.stop", "stop", "Stop reading; on other screens, stop what is running.", synonyms="cancel"),
    _REDRAW,
    _SUSPEND,
    Key(("q",), "app.leave", "quit", "Leave. Only the key w ever writes a folder.", "q", "exit close"),
)


def _footer_of(*actions: str) -> tuple[Key, ...]:
    """The keys of these actions of the main screen, followed by the keys for more, help and leaving."""
    by_action = {key.action: key for key in MAIN}
    wanted = [by_action[action] for action in (*actions, "app.commands", "app.help", "app.leave")]
    return tuple(replace(key, footer=key.footer or key.shown) for key in wanted)


MAIN_EMPTY = _footer_of("app.live", "app.open", "app.again")
"""Keys in the main screen's footer if there is no frame."""
MAIN_LIVE = tuple(
    replace(key, name="end") if key.action == "app.live" else key
    for key in _footer_of("app.live", "app.alarms", "view", "read", "search", "next_match(1)")
)
"""Keys in the main screen's footer while an export is watched."""
_STEPS = (
    Key(("full_stop", "j"), "step(1)", "next frame", "One frame on.", ", ."),
    Key(("comma", "k"), "step(-1)", "previous frame", "One frame back."),
    Key(("pagedown", "ctrl+d"), "step(10)", "ten frames on", "Ten frames on."),
    Key(("pageup", "ctrl+u"), "step(-10)", "ten frames back", "Ten frames back."),
    Key(("g", "home"), "edge(-1)", "first frame", "To the first frame.", synonyms="start"),
    Key(("G", "end"), "edge(1)", "last frame", "To the last frame."),
)
_FINDS = (*_FRAMES[1:], _FRAMES[0])
"""The keys of _FRAMES with the search last: on a screen that shows one frame, the next problem is wanted more often."""
_CELLS = Key(
    ("C",),
    "cells",
    "cells",
    "The next way to draw: pixels if the terminal has them, parts of cells, dots.",
    synonyms="braille pixels sixel",
)
_FLIP = Key(
    ("v",),
    "flip",
    "before/after",
    "Show the frame as it is, or as the staged or offered fix makes it.",
    "v",
    "preview fix after",
)
_BESIDE = Key(
    ("tab",),
    "beside",
    "side by side",
    "Show before and after side by side, or only one.",
    "tab",
    "split both preview",
)
FLIPPING = (_FLIP, _BESIDE)
"""Keys of a picture that the footer leaves out where no fix changes the frame."""
_ZOOM = (
    Key(("plus", "equals_sign"), "zoom(1)", "zoom", "Closer.", "+ -"),
    Key(("minus",), "zoom(-1)", "zoom out", "Farther away."),
)
_CAMERA = (
    Key(("left",), "arrow(-1,0,0)", "turn", "Turn the view to the left (P: move it).", "arrows"),
    Key(("right",), "arrow(1,0,0)", "turn right", "Turn the view to the right."),
    Key(("up",), "arrow(0,1,0)", "turn up", "Turn the view up."),
    Key(("down",), "arrow(0,-1,0)", "turn down", "Turn the view down."),
    Key(
        ("P",),
        "arrows",
        "arrows turn or move",
        "Let the arrows move the view instead of turning it, and back.",
        synonyms="pan",
    ),
    Key(("shift+left",), "arrow(-1,0,1)", "move left", "Move the view to the left."),
    Key(("shift+right",), "arrow(1,0,1)", "move right", "Move the view to the right."),
    Key(("shift+up",), "arrow(0,1,1)", "move up", "Move the view up."),
    Key(("shift+down",), "arrow(0,-1,1)", "move down", "Move the view down."),
    *_STEPS,
    *_ZOOM,
    Key(("0",), "fit", "fit", "Fit the frame into the picture; again: the whole sequence.", "0", "frame all reset"),
    Key(("V",), "views", "view presets", "Front, side, top; facing the marked faces; perspective.", synonyms="camera"),
)
VIEWER = (
    _FLIP,
    _BESIDE,
    Key(("l",), "look", "display", "Shaded, wireframe, points, textured, or a UV checker.", "l", "look mode wire"),
    *_CAMERA,
    Key(("space",), "play", "play", "Play from this frame on, or stop.", "space", "animate"),
    Key(("S",), "rate", "speed", "Frames per second of playback.", synonyms="fps rate"),
    *_FINDS,
    Key(("b",), "behind", "show reference", "Show the reference frame behind, or hide it.", synonyms="ghost onion"),
    Key(
        ("h",),
        "marks",
        "marked faces",
        "Mark the faces and vertices of the finding, or hide the marks.",
        synonyms="highlight hatch",
    ),
    Key(("U",), "uv_map", "UV map", "The UV map of this frame.", synonyms="uvs islands"),
    _OPEN_FIX,
    _CELLS,
    *_GENERAL,
)
UV_MAP = (
    _FLIP,
    _BESIDE,
    Key(("l",), "under", "display", "The map alone, over its texture, or over a UV checker.", "l", "look"),
    Key(("b",), "behind", "show reference", "Draw the reference's map as well, and what moved.", "b", "differs"),
    Key(("left",), "move(-1,0)", "move", "Move to the left in the texture.", "arrows"),
    Key(("right",), "move(1,0)", "move right", "Move to the right in the texture."),
    Key(("up",), "move(0,1)", "move up", "Move up in the texture."),
    Key(("down",), "move(0,-1)", "move down", "Move down in the texture."),
    *_STEPS,
    *_ZOOM,
    Key(("0",), "fit", "fit", "Fit the whole map into view; again: the unit square.", "0", "all reset"),
    Key(("M",), "material", "material", "The faces of one material, or of all.", "M"),
    *_FINDS,
    _OPEN_FIX,
    _CELLS,
    *_GENERAL,
)
COMPARE = (
    Key(("l",), "look", "display", "Distances, or both frames textured, shaded or as UV maps.", "l", "texture uvs"),
    *_CAMERA,
    Key(("enter",), "read", "details", "All differences, as a page.", "enter"),
    *_FINDS,
    _CELLS,
    *_GENERAL,
)
PLOTS = (
    Key(("right",), "along(1)", "next column", "To the next column.", "left right"),
    Key(("left",), "along(-1)", "previous column", "To the previous column."),
    *_STEPS,
    Key(("plus", "equals_sign"), "zoom(1)", "zoom", "Half as many frames around the cursor.", "+ -"),
    Key(("minus",), "zoom(-1)", "zoom out", "Twice as many frames around the cursor."),
    Key(("greater_than_sign", "shift+right"), "pan(1)", "window on", "Move the window on over the frames.", "< >"),
    Key(("less_than_sign", "shift+left"), "pan(-1)", "window back", "Move the window back over the frames."),
    Key(("0",), "fit", "all frames", "See all frames.", "0"),
    Key(tuple("123456"), "panel({})", "curves", "Drift, centre, size, speed, counts, files.", "1-6"),
    Key(("tab",), "next_panel(1)", "next curves", "The next curves.", "tab"),
    *_FINDS,
    *_GENERAL,
)
_STOP = Key(("ctrl+c",), "stop", "stop", "Stop what is running here.", "ctrl+c", "cancel")
EXPORT = (
    Key(
        ("F",),
        "take_plan",
        "stage its fixes",
        "Stage the fixes of the plan that was saved for the previous export.",
        "F",
        "plan",
    ),
    Key(("D",), "take_rules", "use its rules", "Check by the delivery rules of the previous export.", "D"),
    _STOP,
    *_GENERAL,
)
FIT = (
    Key(("enter",), "read", "details", "All figures, and when lettering can be read.", "enter", "read more"),
    Key(
        ("T",), "captions", "captions", "Type captions and see them on the moving surface.", "T", "text lettering type"
    ),
    Key(("M",), "material", "material", "The fit of another material.", "M"),
    Key(("w",), "template", "write template", "Write a picture to draw the texture on.", "w", "save"),
    _STOP,
    *_GENERAL,
)
CAPTIONS = (
    Key(("i",), "type", "type", "Type the text of this version; | begins a new line.", "i", "text edit insert"),
    Key(("enter",), "change", "change", "Font, colour, box, frames: change a value of this version.", "enter", "edit"),
    Key(("l",), "look", "display", "The lettering close up, the whole picture, or the texture.", "l", "look zoom"),
    Key(("full_stop", "right"), "step(1)", "next frame", "One frame on.", ", ."),
    Key(("comma", "left"), "step(-1)", "previous frame", "One frame back."),
    Key(("shift+right",), "step(10)", "ten frames on", "Ten frames on."),
    Key(("shift+left",), "step(-10)", "ten frames back", "Ten frames back."),
    Key(
        ("right_square_bracket",),
        "problem(1)",
        "next problem",
        "The next frame in which the caption is unreadable.",
        "] [",
    ),
    Key(
        ("left_square_bracket",),
        "problem(-1)",
        "previous problem",
        "The previous frame in which the caption is unreadable.",
    ),
    Key(("tab",), "version(1)", "next version", "The next caption version.", "tab"),
    Key(("shift+tab",), "version(-1)", "previous version", "The previous caption version."),
    Key(("A",), "add", "add version", "Add a version like this one, and type its text.", "A", "new copy duplicate"),
    Key(("delete",), "drop", "remove version", "Remove this version from the list; no file is changed.", "", "delete"),
    Key(("w",), "write", "write", "Write the versions to a new captions file.", "w", "save toml"),
    _UNDO,
    _CELLS,
    _STOP,
    *_GENERAL,
)
FINDING = (
    _FIX,
    _LOSSLESS,
    *(key for key in _FRAMES if key.action.startswith(("next_match", "problem"))),
    Key(("v",), "view", "view", "The frame as a picture, with the finding marked.", "v", "viewer"),
    _UNDO,
    _COPY,
    _EDITOR,
    _PLAN,
    _WRITE,
    *_GENERAL,
)
PLAN = (
    Key(("x", "delete"), "unstage", "unstage", "Take the step under the cursor out of the plan.", "x", "remove"),
    Key(("tab",), "app.focus_next", "next pane", "Switch between the steps and what one of them does.", "tab"),
    _LOSSLESS,
    _WRITE,
    _UNDO,
    *_GENERAL,
)
WRITING = (Key(("ctrl+c",), "app.stop", "stop", "Stop writing; no output folder is created.", "ctrl+c", "cancel"),)
WRITTEN = (
    Key(("c",), "compare", "compare", "Compare each frame with its correction.", "c", "diff before after"),
    Key(("o",), "app.open_written", "open", "Open the corrected folder.", "o"),
    _COPY,
    *_GENERAL,
)
PAGE = _GENERAL
PROMPT = (
    Key(("enter",), "", "OK", "Accept what was typed.", "enter"),
    Key(("escape", "ctrl+c"), "back", "cancel", "Back without a change.", "esc"),
)
PROMPT_OF_PATHS = (Key((), "", "complete", "Complete a path.", "tab"), *PROMPT)
PROMPT_OF_SEVERAL = (Key((), "", "next line", "To the next line.", "tab"), *PROMPT)
CHOICE = (
    Key(tuple("1234567890"), "choose({})", "choose", "Choose the line with this number or letter."),
    Key(("enter",), "choose_cursor", "choose", "Choose the line under the cursor.", "key, or arrows and enter"),
    Key(("q", "escape"), "back", "cancel", "Back without a change.", "q"),
)
COMMANDS = (
    Key(("down",), "move(1)", "choose", "To the next line.", "arrows"),
    Key(("up",), "move(-1)", "choose above", "To the previous line."),
    *PROMPT,
)

SCREENS = {
    "Main screen": MAIN,
    "Finding": FINDING,
    "Viewer": VIEWER,
    "UV map": UV_MAP,
    "Plots": PLOTS,
    "Compare": COMPARE,
    "Comparison of exports": EXPORT,
    "Texture and lettering": FIT,
    "Captions": CAPTIONS,
    "Plan": PLAN,
    "While writing": WRITING,
    "After writing": WRITTEN,
    "Pages of text": PAGE,
    "Prompts": PROMPT,
    "Choices": CHOICE,
    "The list of commands": COMMANDS,
    "Lists and pages": LIST,
}
"""Heading on the help page -> the keys that work there."""


def bindings(keys: tuple[Key, ...]) -> list[BindingType]:
    """Make Textual's bindings for some keys of the table.

    The bindings have priority, so that an action is done before the next key is handled. Otherwise keys that arrive
    together over a slow connection would overtake the action: the digits of `#14` would reach the screen below the
    question.
    """
    return [
        Binding(name, key.action.format(name), key.name, show=False, priority=True)
        for key in keys
        if key.action
        for name in key.keys
    ]
