"""The table of keys, from which bindings, footers, the list of commands and the help page are made.

A letter has the same or a closely related meaning on every screen that uses it. The keys for moving, searching and
leaving are the same as in less and vi.
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
"""Textual's name for a key -> its usual name, if the names differ."""


@dataclass(frozen=True, slots=True)
class Key:
    """One command of a screen.

    Attributes:
        keys: Textual's names for the keys that run the command.
        action: Textual's action. `{}` is replaced with the digit that was pressed. Empty if the screen handles the keys
            itself.
        name: Name of the command in the footer, the list of commands and the help.
        help: Description of the command for the list of commands and the help.
        footer: The keys as the footer shows them, such as `n N`; empty if the footer leaves the command out.
        synonyms: Other words with which the command can be found in the list of commands.
    """

    keys: tuple[str, ...]
    action: str
    name: str
    help: str
    footer: str = ""
    synonyms: str = ""

    @property
    def shown(self) -> str:
        """The usual names of the keys, such as `j, down`, or `1-9` for consecutive digits."""
        if len(self.keys) > 2 and all(key.isdigit() for key in self.keys):
            digits = [int(key) for key in self.keys]
            run = list(takewhile(lambda pair: pair[1] == digits[0] + pair[0], enumerate(digits)))
            rest = "".join(f", {digit}" for digit in digits[len(run) :])
            return f"{digits[0]}-{run[-1][1]}{rest}"
        return ", ".join(_SHOWN.get(key, key) for key in self.keys)


LIST = (
    Key(("j", "down"), "move(1)", "down", "Move one line down."),
    Key(("k", "up"), "move(-1)", "up", "Move one line up."),
    Key(("pagedown",), "page(1)", "page down", "Move one page down."),
    Key(("pageup",), "page(-1)", "page up", "Move one page up."),
    Key(("ctrl+d",), "page(0.5)", "half page down", "Move half a page down."),
    Key(("ctrl+u",), "page(-0.5)", "half page up", "Move half a page up."),
    Key(("g", "home"), "edge(-1)", "first line", "Go to the first line.", synonyms="top start begin"),
    Key(("G", "end"), "edge(1)", "last line", "Go to the last line.", synonyms="bottom"),
)
"""Keys of lists and pages."""

_HELP = Key(("question_mark",), "app.help", "help", "Show all signs and keys, starting with this screen's keys.", "?")
_COMMANDS = Key(
    ("colon",),
    "app.commands",
    "more",
    "Find a command by name, or go to a frame by its number.",
    ":",
    "actions menu",
)
_REDRAW = Key(("ctrl+l",), "app.redraw", "redraw", "Draw the whole screen again.", synonyms="refresh repaint clear")
_SUSPEND = Key(
    ("ctrl+z",), "app.suspend_process", "suspend", "Return to the shell; `fg` resumes the program.", synonyms="shell"
)
_BACK = Key(("q", "escape"), "back", "back", "Go back to the previous screen.", "q", "close leave")
_UNDO = Key(
    ("u",), "app.undo", "undo", "Undo the last change, such as a staged fix, a mark or a filter.", "u", "revert"
)
_FIX = Key(tuple("123456789"), "app.fix({})", "stage fix", "Stage the fix with this number, or unstage it.", "1-9")
_LOSSLESS = Key(
    ("e",),
    "app.stage_lossless",
    "fix",
    "Stage every lossless fix for the findings.",
    "e",
    "exact safe all",
)
_PLAN = Key(
    ("p",),
    "app.plan",
    "plan",
    "Show what is staged, what it changes, and what was refused and why.",
    "p",
    "staged fixes steps",
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
        "Search findings, files and materials; leave blank to end the search.",
        "/",
        "search grep filter text",
    ),
    Key(
        ("n",),
        "next_match(1)",
        "next",
        "Go to the next match or, without a search, to the next error or warning.",
        "n",
        "problem error warning match",
    ),
    Key(
        ("N",),
        "next_match(-1)",
        "previous",
        "Go to the previous match or, without a search, to the previous error or warning.",
        synonyms="problem error warning match back",
    ),
    Key(
        ("right_square_bracket",),
        "problem(1)",
        "next problem",
        "Go to the next error or warning, regardless of the search.",
        synonyms="error warning jump",
    ),
    Key(
        ("left_square_bracket",),
        "problem(-1)",
        "previous problem",
        "Go to the previous error or warning, regardless of the search.",
        synonyms="error warning jump",
    ),
    Key(
        ("asterisk",),
        "same_check",
        "same problem",
        "Search for findings of the same check; n and N step through them.",
        synonyms="check kind",
    ),
    Key(("number_sign",), "go", "go to frame", "Go to a frame by its number.", synonyms="jump number"),
    Key(("m",), "mark", "mark", "Mark the frame under the cursor, or unmark it.", synonyms="bookmark"),
    Key(("apostrophe",), "next_mark", "next mark", "Go to the next marked frame.", synonyms="bookmark jump"),
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
        "Show the frame as a picture, turn the view, or play the sequence.",
        "v",
        "viewer 3d preview",
    ),
    Key(
        ("enter",),
        "read",
        "details",
        "Show the finding in full: what it is, where it is, and what fixes it.",
        "enter",
        "read open",
    ),
    *_FRAMES,
    _PLAN,
    _OPEN_FIX,
    Key(
        ("tab",), "app.focus_next", "next pane", "Go to the next pane: frames, findings or sequences.", synonyms="focus"
    ),
    Key(("shift+tab",), "app.focus_previous", "previous pane", "Go to the previous pane.", synonyms="focus"),
    Key(("right",), "strip(1)", "strip right", "Move one cell to the right on the strip of the whole sequence."),
    Key(("left",), "strip(-1)", "strip left", "Move one cell to the left on the strip of the whole sequence."),
    Key(("f",), "filter", "filter", "Choose which frames the table shows.", synonyms="show hide only"),
    Key(("s",), "sort", "sort", "Sort the table by a column.", synonyms="order worst"),
    Key(("d",), "plots", "plots", "Plot drift, size, speed, counts and files over the frames.", synonyms="graph"),
    Key(("U",), "uv_map", "UV map", "Show the UV map of the frame under the cursor.", synonyms="uvs islands layout"),
    Key(
        ("t",),
        "fit",
        "texture",
        "Show suitable texture sizes and lettering boxes, and write a template to draw on.",
        synonyms="template lettering fit",
    ),
    Key(
        ("c",),
        "compare",
        "compare",
        "Compare the frame with another frame, or with its corrected version.",
        synonyms="diff",
    ),
    Key(
        ("X",),
        "compare_export",
        "compare exports",
        "Compare this export with the previous export: what changed, and what got worse.",
        synonyms="diff version last previous",
    ),
    Key(
        ("R",),
        "reference",
        "set reference",
        "Make this frame the reference frame, with which all other frames are compared.",
        synonyms="base",
    ),
    Key(
        ("z",),
        "app.state",
        "size, range",
        "State the frame range and the object's size, which the files alone don't show.",
        "z",
        "frames statements expected last missing scale units",
    ),
    Key(("r",), "app.again", "read again", "Read the folder again; staged fixes are kept.", synonyms="reload refresh"),
    Key(("L",), "app.live", "live", "Watch an export into this folder; errors raise an alarm.", synonyms="watch"),
    Key(
        ("a",),
        "app.alarms",
        "alarms",
        "List the errors in the watched export, in order of arrival.",
        synonyms="live errors",
    ),
    Key(("o",), "app.open", "open", "Open another folder; recent folders are listed first.", synonyms="folder load"),
    _COMMANDS,
    _HELP,
    Key(("ctrl+c",), "app.stop", "stop", "Stop reading; on other screens, stop what is running.", synonyms="cancel"),
    _REDRAW,
    _SUSPEND,
    Key(("q",), "app.leave", "quit", "Quit without writing corrected frames.", "q", "exit close"),
)


def _footer_of(*actions: str) -> tuple[Key, ...]:
    """Return the main screen's keys for the given actions, followed by the keys for the command list, help and
    leaving."""
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
    Key(("full_stop", "j"), "step(1)", "next frame", "Go to the next frame.", ", ."),
    Key(("comma", "k"), "step(-1)", "previous frame", "Go to the previous frame."),
    Key(("pagedown", "ctrl+d"), "step(10)", "ten frames ahead", "Go ten frames ahead."),
    Key(("pageup", "ctrl+u"), "step(-10)", "ten frames back", "Go ten frames back."),
    Key(("g", "home"), "edge(-1)", "first frame", "Go to the first frame.", synonyms="start"),
    Key(("G", "end"), "edge(1)", "last frame", "Go to the last frame."),
)
_FINDS = (*_FRAMES[1:], _FRAMES[0])
"""The keys of _FRAMES for screens that show one frame. The key for searching is last, because the key for the next
problem is needed more often."""
_CELLS = Key(
    ("C",),
    "cells",
    "cells",
    "Draw pictures with pixels (if the terminal supports them), with blocks, or with dots.",
    synonyms="braille pixels sixel",
)
_FLIP = Key(
    ("v",),
    "flip",
    "before/after",
    "Show the frame with or without the staged or offered fix.",
    "v",
    "preview fix after",
)
_BESIDE = Key(
    ("tab",),
    "beside",
    "side by side",
    "Show the frames before and after the fix side by side, or only one of them.",
    "tab",
    "split both preview",
)
FLIPPING = (_FLIP, _BESIDE)
"""Keys for showing the frame after a fix. The footer leaves them out if no fix is staged or offered."""
_ZOOM = (
    Key(("plus", "equals_sign"), "zoom(1)", "zoom", "Zoom in.", "+ -"),
    Key(("minus",), "zoom(-1)", "zoom out", "Zoom out."),
)
_CAMERA = (
    Key(("left",), "arrow(-1,0,0)", "turn", "Turn the view to the left.", "arrows"),
    Key(("right",), "arrow(1,0,0)", "turn right", "Turn the view to the right."),
    Key(("up",), "arrow(0,1,0)", "turn up", "Turn the view up."),
    Key(("down",), "arrow(0,-1,0)", "turn down", "Turn the view down."),
    Key(
        ("P",),
        "arrows",
        "turn or move",
        "Switch the arrow keys between turning and moving the view.",
        synonyms="pan",
    ),
    Key(("shift+left",), "arrow(-1,0,1)", "move left", "Move the view to the left."),
    Key(("shift+right",), "arrow(1,0,1)", "move right", "Move the view to the right."),
    Key(("shift+up",), "arrow(0,1,1)", "move up", "Move the view up."),
    Key(("shift+down",), "arrow(0,-1,1)", "move down", "Move the view down."),
    *_STEPS,
    *_ZOOM,
    Key(
        ("0",),
        "fit",
        "fit",
        "Fit the frame into the picture; press again to fit the whole sequence.",
        "0",
        "frame all reset",
    ),
    Key(
        ("V",),
        "views",
        "view presets",
        "Choose a view, such as front, top or the marked faces; switch perspective on or off.",
        synonyms="camera",
    ),
)
VIEWER = (
    _FLIP,
    _BESIDE,
    Key(
        ("l",),
        "look",
        "display",
        "Choose how the frame is drawn: shaded, wireframe, points, textured or UV checker.",
        "l",
        "look mode wire",
    ),
    *_CAMERA,
    Key(("space",), "play", "play", "Start playback at this frame, or stop it.", "space", "animate"),
    Key(("S",), "rate", "speed", "Choose the playback speed in frames per second.", synonyms="fps rate"),
    *_FINDS,
    Key(
        ("b",),
        "behind",
        "show reference",
        "Show the reference frame behind this frame, or hide it.",
        synonyms="ghost onion",
    ),
    Key(
        ("h",),
        "marks",
        "marked faces",
        "Mark the faces and vertices of the finding, or hide the marks.",
        synonyms="highlight hatch",
    ),
    Key(("U",), "uv_map", "UV map", "Show the UV map of this frame.", synonyms="uvs islands"),
    _OPEN_FIX,
    _CELLS,
    *_GENERAL,
)
UV_MAP = (
    _FLIP,
    _BESIDE,
    Key(("l",), "under", "display", "Draw the map alone, over its texture, or over a UV checker.", "l", "look"),
    Key(
        ("b",),
        "behind",
        "show reference",
        "Also draw the reference frame's map, and mark the faces that moved.",
        "b",
        "differs",
    ),
    Key(("left",), "move(-1,0)", "move", "Move to the left in the texture.", "arrows"),
    Key(("right",), "move(1,0)", "move right", "Move to the right in the texture."),
    Key(("up",), "move(0,1)", "move up", "Move up in the texture."),
    Key(("down",), "move(0,-1)", "move down", "Move down in the texture."),
    *_STEPS,
    *_ZOOM,
    Key(("0",), "fit", "fit", "Fit the whole map into the view; press again to fit the unit square.", "0", "all reset"),
    Key(("M",), "material", "material", "Show the faces of one material, or of all materials.", "M"),
    *_FINDS,
    _OPEN_FIX,
    _CELLS,
    *_GENERAL,
)
COMPARE = (
    Key(
        ("l",),
        "look",
        "display",
        "Show distances, or show both frames textured, shaded or as UV maps.",
        "l",
        "texture uvs",
    ),
    *_CAMERA,
    Key(("enter",), "read", "details", "Show all differences on a page.", "enter"),
    *_FINDS,
    _CELLS,
    *_GENERAL,
)
PLOTS = (
    Key(("right",), "along(1)", "next column", "Go to the next column.", "left right"),
    Key(("left",), "along(-1)", "previous column", "Go to the previous column."),
    *_STEPS,
    Key(("plus", "equals_sign"), "zoom(1)", "zoom", "Show half as many frames around the cursor.", "+ -"),
    Key(("minus",), "zoom(-1)", "zoom out", "Show twice as many frames around the cursor."),
    Key(("greater_than_sign", "shift+right"), "pan(1)", "later frames", "Show later frames.", "< >"),
    Key(("less_than_sign", "shift+left"), "pan(-1)", "earlier frames", "Show earlier frames."),
    Key(("0",), "fit", "all frames", "Show all frames.", "0"),
    Key(
        tuple("123456"), "panel({})", "curves", "Choose the curves: drift, centre, size, speed, counts or files.", "1-6"
    ),
    Key(("tab",), "next_panel(1)", "next curves", "Show the next curves.", "tab"),
    *_FINDS,
    *_GENERAL,
)
_STOP = Key(("ctrl+c",), "stop", "stop", "Stop what is running here.", "ctrl+c", "cancel")
EXPORT = (
    Key(
        ("F",),
        "take_plan",
        "stage previous fixes",
        "Stage the fixes that were planned or staged for the previous export.",
        "F",
        "plan",
    ),
    Key(
        ("D",),
        "take_rules",
        "use previous rules",
        "Check this export against the delivery rules of the previous export.",
        "D",
    ),
    _STOP,
    *_GENERAL,
)
FIT = (
    Key(
        ("enter",),
        "read",
        "details",
        "Show all results, and the frames in which lettering is readable.",
        "enter",
        "read more",
    ),
    Key(
        ("T",), "captions", "captions", "Type captions and see them on the moving surface.", "T", "text lettering type"
    ),
    Key(("M",), "material", "material", "Show the fit for another material.", "M"),
    Key(("w",), "template", "write template", "Write a template to draw the texture on.", "w", "save"),
    _STOP,
    *_GENERAL,
)
CAPTIONS = (
    Key(("i",), "type", "type", "Type the text of this version; | begins a new line.", "i", "text edit insert"),
    Key(
        ("enter",),
        "change",
        "change",
        "Change a value of this version, such as its font, colour, box or frames.",
        "enter",
        "edit",
    ),
    Key(("tab",), "version(1)", "next version", "Go to the next caption version.", "tab"),
    Key(("shift+tab",), "version(-1)", "previous version", "Go to the previous caption version."),
    Key(("w",), "write", "write", "Write the versions to a new captions file.", "w", "save toml"),
    Key(("l",), "look", "display", "Show the lettering close up, the whole picture, or the texture.", "l", "look zoom"),
    Key(("full_stop", "right"), "step(1)", "next frame", "Go to the next frame.", ", ."),
    Key(("comma", "left"), "step(-1)", "previous frame", "Go to the previous frame."),
    Key(("shift+right",), "step(10)", "ten frames ahead", "Go ten frames ahead."),
    Key(("shift+left",), "step(-10)", "ten frames back", "Go ten frames back."),
    Key(
        ("right_square_bracket",),
        "problem(1)",
        "next problem",
        "Go to the next frame in which the caption is unreadable.",
        "] [",
    ),
    Key(
        ("left_square_bracket",),
        "problem(-1)",
        "previous problem",
        "Go to the previous frame in which the caption is unreadable.",
    ),
    Key(("A",), "add", "add version", "Add a copy of this version, and type its text.", "A", "new copy duplicate"),
    Key(("delete",), "drop", "remove version", "Remove this version from the list; no file is changed.", "", "delete"),
    _UNDO,
    _CELLS,
    _STOP,
    *_GENERAL,
)
FINDING = (
    _FIX,
    _LOSSLESS,
    *(key for key in _FRAMES if key.action.startswith(("next_match", "problem"))),
    Key(("v",), "view", "view", "Show the frame as a picture, with the finding marked.", "v", "viewer"),
    _UNDO,
    _COPY,
    _EDITOR,
    _PLAN,
    _WRITE,
    *_GENERAL,
)
PLAN = (
    Key(("x", "delete"), "unstage", "unstage", "Remove the step under the cursor from the plan.", "x", "remove"),
    Key(("tab",), "app.focus_next", "next pane", "Switch between the steps and the details of a step.", "tab"),
    _LOSSLESS,
    _WRITE,
    _UNDO,
    *_GENERAL,
)
WRITING = (Key(("ctrl+c",), "app.stop", "stop", "Stop writing; no output folder is created.", "ctrl+c", "cancel"),)
WRITTEN = (
    Key(("c",), "compare", "compare", "Compare each frame with its corrected version.", "c", "diff before after"),
    Key(("o",), "app.open_written", "open", "Open the corrected folder.", "o"),
    _COPY,
    *_GENERAL,
)
PAGE = _GENERAL
PROMPT = (
    Key(("enter",), "", "OK", "Accept the typed text.", "enter"),
    Key(("escape", "ctrl+c"), "back", "cancel", "Go back without a change.", "esc"),
)
PROMPT_OF_PATHS = (Key((), "", "complete", "Complete a path.", "tab"), *PROMPT)
PROMPT_OF_SEVERAL = (Key((), "", "next line", "Go to the next line.", "tab"), *PROMPT)
CHOICE = (
    Key(tuple("1234567890"), "choose({})", "choose", "Choose the line with this number or letter."),
    Key(("enter",), "choose_cursor", "choose", "Choose the line under the cursor.", "key, or arrows and enter"),
    Key(("q", "escape"), "back", "cancel", "Go back without a change.", "q"),
)
COMMANDS = (
    Key(("down",), "move(1)", "choose", "Go to the next line.", "arrows"),
    Key(("up",), "move(-1)", "choose above", "Go to the previous line."),
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
"""Heading of a screen on the help page -> the keys of that screen."""


def bindings(keys: tuple[Key, ...]) -> list[BindingType]:
    """Make Textual's bindings for keys of the table. Keys without an action get no binding.

    The bindings have priority, so that an action is done before the next key is handled. Otherwise, keys that arrive
    together over a slow connection would overtake the action.
    """
    return [
        Binding(name, key.action.format(name), key.name, show=False, priority=True)
        for key in keys
        if key.action
        for name in key.keys
    ]
