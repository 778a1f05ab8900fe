"""What --help says beside the options."""

from __future__ import annotations

COMMANDS = {
    "check": ("check FOLDER", "Say what is wrong, where, and what answers it."),
    "merge": ("merge FOLDER PART...", "The verdict from parts of check --part."),
    "watch": ("watch FOLDER", "Judge each frame as an export writes it."),
    "fix": ("fix FOLDER --output OUT", "Write a corrected folder and prove it."),
    "compare": ("compare FOLDER", "What differs between frames, block by block."),
    "verify": ("verify OUT", "Prove a delivered folder later."),
    "unpack": ("unpack FILE OUT", "OBJ frames from a file of a whole animation."),
    "fit": ("fit FOLDER", "What texture and lettering the surface wants."),
    "template": ("template FOLDER --output PNG", "A template to draw the texture on."),
    "picture": ("picture FOLDER --output PNG", "A frame, several, or a moving picture."),
    "rules": ("rules [--from FOLDER]", "Print delivery rules to start from."),
    "demo": ("demo FOLDER", "Write three small sequences to try it on."),
    "checks": ("checks", "List all checks."),
    "explain": ("explain ID", "Explain a check or a fix."),
}
"""Command word -> its usage and what it does."""

FORMATS = {
    "text": "for people (default)",
    "json": "everything, as one JSON document",
    "junit": "JUnit XML, for continuous integration and queues",
    "lines": "file:line: severity: message [check], for editors",
    "csv": "the facts of every frame, for a spreadsheet",
    "html": "a page with plots and pictures (see --report)",
}
"""Word of --format -> what it is."""

FORMS = {
    "obj": "OBJ frames, also where nothing is to be fixed",
    "usd": "one scene file with time samples (needs the extra `usd`)",
    "abc": "one Alembic archive with time samples",
    "glb": "a GLB a frame",
    "ply": "a PLY a frame",
    "stl": "an STL a frame",
    "off": "an OFF a frame",
}
"""Word of --as -> what it is."""

CODES = """\
exit codes:
  0  nothing at or above --fail-on (default: error) was found, or is left
  1  something was, or is left
  2  it could not be done: wrong words, an unreadable folder, a refused fix,
     a check that broke, stopped by Ctrl-C
"""

VERIFY_CODES = """\
exit codes:
  0  the folder is what was delivered, and no check says more than the receipt
  1  it is not: files changed, missing, extra, or findings that are new
  2  it could not be done: no receipt that can be read, a check that broke
"""

COMPARE_CODES = """\
exit codes:
  0  nothing differs
  1  something differs, or is not there
  2  it could not be done: wrong words, a frame that can't be read
"""

PICTURE_CODES = """\
exit codes:
  0  done
  2  it could not be done: wrong words, an unreadable folder, no UVs where they
     are needed, a file that is there already, stopped by Ctrl-C
"""
