"""A table of checks of the text that only report what the reader noted.

These checks are rows of one table, not separate modules: they differ only in data, and their severities and sentences
can be compared side by side. A check that computes anything has a module of its own.
"""

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
        "A coordinate is missing or is not a finite decimal number: nan, inf, a decimal comma, or text.",
        "A vertex flies to the origin or to infinity, or the import drops the whole frame.",
        "Export the frame again, or fill it from its neighbours. The usual causes are a simulation that blew up and a "
        "system that writes decimal commas.",
        fixes=("decimal-commas", "fill-frames"),
        fixes_of={"bad-number": ("fill-frames",), "few-numbers": ("fill-frames",)},
        needs=(),
    ),
    _row(
        "capital-statements",
        "Statements in capitals",
        {"capital-statement": Severity.WARNING},
        "Statements are written in capitals, such as V for v. The format defines them in lower case.",
        "Readers that compare the exact word skip the lines: vertices or faces are missing, or the file seems empty.",
        "Export again, or use the fix, which writes the statements in lower case.",
        fixes=("clean-text",),
    ),
    _row(
        "continued-lines",
        "Continued lines",
        {"continued-line": Severity.NOTE},
        "A backslash at the end of a line continues the statement on the next line. The format allows this, but few "
        "exporters do it.",
        "Readers that work line by line lose the rest of the statement: faces lose corners.",
        "If the import shows holes, export without line breaks inside statements.",
        fixes=("clean-text",),
    ),
    _row(
        "deprecated-statements",
        "Deprecated statements",
        {"deprecated-statement": Severity.WARNING},
        "The file uses deprecated statements: fo for faces, or bsp, bzp, cdc, cdp or res for patches.",
        "Current readers don't support them: faces or patches are missing.",
        "Export faces as f statements, and convert patches to polygons before the export.",
        fixes=("clean-text",),
    ),
    _row(
        "empty-indices",
        "Empty indices in corners",
        {"empty-index": Severity.WARNING},
        "A corner ends in a slash without the index that should follow (1/ or 1/2/).",
        "Some readers take the index of the next corner instead, and the UVs are wrong.",
        "Export again with an index after each slash, or without the slash.",
        fixes=("clean-text",),
        element="face",
    ),
    _row(
        "encoding",
        "Text encoding",
        {"byte-order-mark": Severity.WARNING, "utf-16": Severity.WARNING, "not-utf8": Severity.WARNING},
        "The text is UTF-16, starts with a byte-order mark, or has bytes that are not UTF-8 (usually accented names).",
        "Some imports find nothing in the file, lose its first line, or fail to match the names of materials and "
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
        "The content of the included file is missing. A reader that executes `csh` runs a command chosen by the "
        "author of the file.",
        "Find out where the file comes from. Export everything into one file, without these lines.",
        fixes=("drop-executable",),
    ),
    _row(
        "extra-numbers",
        "Extra numbers after some positions",
        {"partial-extras": Severity.WARNING},
        "Some vertices have numbers after x, y and z (a weight or a colour), and others don't.",
        "Readers that expect equally many numbers on every line refuse the file, or misread all positions after the "
        "first line that differs.",
        "Export vertex colours for all vertices or for none.",
    ),
    _row(
        "free-form",
        "Curves, lines and points",
        {"free-form": Severity.WARNING, "not-polygonal": Severity.NOTE},
        "The file holds free-form curves or surfaces, or line and point elements, in addition to or instead of "
        "polygons.",
        "Imports that read only polygons leave them out: part or all of the object is missing.",
        "Convert everything that should be visible to polygons before the export.",
    ),
    _row(
        "index-range",
        "Vertex index out of range",
        {"index-zero": Severity.ERROR, "index-range": Severity.ERROR},
        "A face names a vertex that the file doesn't have. Indices count from 1.",
        "The import fails, or faces stretch to the wrong point.",
        "Export the frame again: the vertices and the faces come from different states of the mesh.",
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
        "The file mixes line endings, uses bare carriage returns, or has no line ending after the last line.",
        "Names end in an invisible character and match nothing. Some readers see the whole file as one line; others "
        "drop the last line.",
        "Export all frames again on one system. Copy files with a tool that doesn't convert line endings.",
        fixes=("clean-text",),
    ),
    _row(
        "mixed-corners",
        "Mixed corner forms",
        {"mixed-corners": Severity.ERROR},
        "Within one face, some corners name a UV or a normal and others don't. The format forbids this.",
        "The import fails, or the texture is wrong on that face.",
        "Complete the UVs or normals of these faces in the scene, and export again.",
        element="face",
    ),
    _row(
        "relative-indices",
        "Relative indices",
        {"relative-index": Severity.NOTE},
        "Faces count vertices backwards from their own line (-1 is the last vertex before that line). The format "
        "allows this.",
        "Some readers count backwards from the end of the file instead, and faces use the wrong vertices.",
        "If the import looks torn, export with positive indices.",
        fixes=("positive-indices",),
        element="face",
    ),
    _row(
        "trailing-comments",
        "Trailing comments",
        {"trailing-comment": Severity.WARNING},
        "A comment follows the numbers on a line. The format requires a comment to have a line of its own.",
        "Many readers refuse the whole file.",
        "Switch off annotations in the export settings.",
        fixes=("clean-text",),
    ),
    _row(
        "unknown-statements",
        "Unknown statements",
        {"unknown-statement": Severity.WARNING},
        "Some lines begin with a word that is not in the format: an extension by one program, or damage.",
        "Readers skip these lines, or stop at them.",
        "Look at the first of these lines. If it is an extension, the import works without it. If the file is "
        "damaged, export it again.",
    ),
    _row(
        "zero-based",
        "Indices count from 0",
        {"zero-based": Severity.ERROR},
        "The lowest index is 0 and the highest is one less than the number of vertices: the exporter counts from 0, "
        "but the format counts from 1.",
        "Faces use the wrong vertices (off by one), or the import fails at the first 0.",
        "Correct the exporter: it must add 1 to each index.",
        fixes=("positive-indices",),
        element="face",
    ),
)
