"""A table of checks that only report problems noted by the reader of the text."""

from __future__ import annotations

from collections.abc import Mapping

from inspector.checks.base.check import Check, Elements, Rationale
from inspector.checks.base.face_sets import without_vertex
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait


def _row(
    id: str,
    title: str,
    kinds: Mapping[str, Severity],
    what: str,
    after_import: str,
    what_to_do: str,
    *,
    fixes: tuple[str, ...] = (),
    element: str | None = None,
    unless: str | None = None,
    fixes_of: Mapping[str, tuple[str, ...]] | None = None,
    needs: tuple[Trait, ...] = (Trait.STATEMENTS,),
    affected_faces: Elements | None = None,
) -> Check:
    rationale = Rationale(what, after_import, what_to_do)
    return note_check(
        id,
        title,
        kinds,
        rationale,
        fixes=fixes,
        element=element,
        unless=unless,
        fixes_of=fixes_of,
        needs=needs,
        affected_faces=affected_faces,
    )


CHECKS = (
    _row(
        "bad-number",
        "Bad number",
        {"bad-number": Severity.ERROR, "decimal-comma": Severity.ERROR, "few-numbers": Severity.ERROR},
        "A coordinate is missing, or is not a finite decimal number: it is nan, inf or text, or has a decimal comma.",
        "A vertex jumps to the origin or to infinity, or the import drops the whole frame.",
        "Export the frame again, or use a fix: `decimal-commas` replaces decimal commas with decimal points, and "
        "`fill-frames` estimates the frame from its neighbours. Bad numbers usually come from a simulation that blew "
        "up or from a system that writes decimal commas.",
        fixes=("decimal-commas", "fill-frames"),
        fixes_of={"bad-number": ("fill-frames",), "few-numbers": ("fill-frames",)},
        needs=(),
    ),
    _row(
        "capital-statements",
        "Statements in capitals",
        {"capital-statement": Severity.WARNING},
        "Some statements are written in capitals, such as V instead of v. The format defines them in lower case.",
        "Readers that require the exact spelling skip these lines. Vertices or faces are missing, or the file seems "
        "empty.",
        "Export again, or use the fix, which writes the statements in lower case.",
        fixes=("clean-text",),
    ),
    _row(
        "continued-lines",
        "Continued lines",
        {"continued-line": Severity.NOTE},
        "A backslash at the end of a line continues the statement on the next line. The format allows this, but few "
        "exporters do it.",
        "Readers that work line by line ignore the rest of the statement, so faces lose corners.",
        "If the imported mesh has holes, export without line breaks inside statements, or use the fix.",
        fixes=("clean-text",),
    ),
    _row(
        "deprecated-statements",
        "Deprecated statements",
        {"deprecated-statement": Severity.WARNING},
        "The file uses deprecated statements: fo for faces, or bsp, bzp, cdc, cdp or res for patches and curves.",
        "Current readers don't support these statements, so faces, patches or curves are missing.",
        "Export faces as f statements, and convert patches and curves to polygons before the export.",
        fixes=("clean-text",),
    ),
    _row(
        "empty-indices",
        "Empty indices in corners",
        {"empty-index": Severity.WARNING},
        "A corner ends with a slash, but the index that should follow is missing (1/ or 1/2/).",
        "In place of the missing index, some readers use the index of the next corner, so the UVs are wrong.",
        "Export again with an index after each slash, or without the slash.",
        fixes=("clean-text",),
        element="face",
    ),
    _row(
        "encoding",
        "Text encoding",
        {"byte-order-mark": Severity.WARNING, "utf-16": Severity.WARNING, "not-utf8": Severity.WARNING},
        "The text is UTF-16, starts with a byte-order mark, or contains bytes that are not UTF-8 (usually in names "
        "with accents).",
        "Some readers find nothing in the file, skip its first line, or fail to match the names of materials and "
        "textures.",
        "Use only ASCII characters in names, and save the file as UTF-8 without a byte-order mark.",
        fixes=("clean-text",),
        fixes_of={"not-utf8": ()},
    ),
    _row(
        "executable-statements",
        "Executable statements",
        {"executable-statement": Severity.WARNING},
        "A `call` statement includes another file; a `csh` statement runs a system command. This tool executes "
        "neither.",
        "The content of the included file is missing. A reader that executes `csh` runs a command that the author of "
        "the file chose.",
        "Find out where the file comes from. Export each frame as one complete file, without these statements.",
        fixes=("drop-executable",),
    ),
    _row(
        "extra-numbers",
        "Extra numbers after some positions",
        {"partial-extras": Severity.WARNING},
        "Some vertices have numbers after x, y and z (a weight or a colour), and others don't.",
        "Readers that expect the same number of values on every vertex line refuse the file, or misread all positions "
        "after the first line that differs.",
        "Export vertex colours for all vertices or for none.",
    ),
    _row(
        "free-form",
        "Curves, lines and points",
        {"free-form": Severity.WARNING, "not-polygonal": Severity.NOTE},
        "The file contains free-form curves or surfaces, lines or points, either in addition to polygons or instead of "
        "polygons.",
        "Readers that support only polygons leave these elements out, so part or all of the object is missing.",
        "Before the export, convert all elements to polygons if they should be visible.",
    ),
    _row(
        "index-range",
        "Vertex index out of range",
        {"index-zero": Severity.ERROR, "index-range": Severity.ERROR},
        "A face refers to a vertex that the file doesn't have. Vertex indices start at 1.",
        "The import fails, or faces stretch to a wrong point.",
        "Export the frame again. The usual cause is that the vertices and the faces come from different states of the "
        "mesh.",
        fixes=("restore-faces", "fill-frames"),
        element="face",
        unless="zero-based",
        needs=(),
        affected_faces=without_vertex,
    ),
    _row(
        "line-ends",
        "Line endings",
        {"mixed-newlines": Severity.WARNING, "bare-returns": Severity.WARNING, "no-final-newline": Severity.NOTE},
        "The file mixes different line endings, uses bare carriage returns, or has no line ending after the last line.",
        "Names may end in an invisible character and match nothing. Some readers take the whole file for one line, and "
        "others drop the last line.",
        "Export all frames again on one system. Copy files with a tool that doesn't convert line endings.",
        fixes=("clean-text",),
    ),
    _row(
        "mixed-corners",
        "Mixed corner forms",
        {"mixed-corners": Severity.ERROR},
        "Within one face, some corners have a UV or a normal and others don't. The format forbids this.",
        "The import fails, or the texture or the shading is wrong on that face.",
        "In the scene, complete the UVs or normals of these faces, and export again.",
        element="face",
    ),
    _row(
        "relative-indices",
        "Relative indices",
        {"relative-index": Severity.NOTE},
        "The indices of faces are negative: they count backwards from the line of the face, so -1 is the last vertex "
        "before that line. The format allows this.",
        "Some readers count negative indices from the end of the file, so faces use the wrong vertices.",
        "If the imported mesh looks torn, export with positive indices, or use the fix.",
        fixes=("positive-indices",),
        element="face",
    ),
    _row(
        "trailing-comments",
        "Trailing comments",
        {"trailing-comment": Severity.WARNING},
        "A comment follows the data on a line. The format requires a comment to have a line of its own.",
        "Many readers refuse the whole file.",
        "Switch off comments in the export settings, or use the fix.",
        fixes=("clean-text",),
    ),
    _row(
        "unknown-statements",
        "Unknown statements",
        {"unknown-statement": Severity.WARNING},
        "Some lines begin with a word that the format doesn't define. The word belongs to an extension of one program, "
        "or the file is damaged.",
        "Readers skip these lines, or stop at the first of them.",
        "Look at the first of these lines. If the word at the start of the line belongs to an extension, the import "
        "works without the line. If the file is damaged, export it again.",
    ),
    _row(
        "zero-based",
        "Indices count from 0",
        {"zero-based": Severity.ERROR},
        "The lowest vertex index is 0, and the highest is one less than the number of vertices. The exporter counts "
        "from 0, but the format counts from 1.",
        "Either faces use the wrong vertices, because every index is off by one, or the import fails at the first 0.",
        "Correct the exporter so that it counts from 1, or use the fix, which adds 1 to each index.",
        fixes=("positive-indices",),
        element="face",
    ),
)
