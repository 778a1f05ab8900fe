"""The statements of an OBJ file, grouped by how this tool treats them.

Source: the OBJ format document ("Appendix B1", version 3.0), statements by type.
"""

from __future__ import annotations

NUMBER_STATEMENTS: dict[bytes, tuple[int, int]] = {b"v": (3, 7), b"vt": (1, 3), b"vn": (3, 3)}
"""Minimum and maximum count of numbers after each keyword. For `v`, the format document has x y z [w]; some writers add
r g b.
"""

FACE_STATEMENTS = frozenset({b"f", b"fo"})
"""Statements for faces. The deprecated `fo` is read like `f`, as the format document requires."""

STATE_STATEMENTS = frozenset({b"g", b"o", b"s", b"usemtl"})
"""Statements that set a state for all faces up to the next statement with the same keyword."""

ACTING_STATEMENTS = frozenset({b"call", b"csh"})
"""Statements that would include another file or run a shell command. They are always reported, and never executed."""

NOT_POLYGONAL = frozenset({b"p", b"l"})
"""Points and lines. They are counted and kept, but importers that support only polygons drop them."""

FREE_FORM = frozenset({b"curv", b"curv2", b"surf"})
"""Free-form curves and surfaces. They are counted and kept, but importers that support only polygons drop them."""

SUPERSEDED = frozenset({b"fo", b"bsp", b"bzp", b"cdc", b"cdp", b"res"})
"""Deprecated statements, still read but no longer written in version 3.0 (format document, "Superseded statements")."""

CARRIED = frozenset(
    {
        *(
            b"vp",
            b"cstype",
            b"deg",
            b"bmat",
            b"step",
            b"parm",
            b"trim",
            b"hole",
            b"scrv",
            b"sp",
            b"end",
            b"con",
        ),
        *(
            b"mg",
            b"bevel",
            b"c_interp",
            b"d_interp",
            b"lod",
            b"maplib",
            b"usemap",
            b"shadow_obj",
            b"trace_obj",
        ),
        *(b"ctech", b"stech", b"mtllib"),
    }
)
"""Known statements that do not affect the mesh itself. They are kept byte for byte."""

NAMES_A_FILE = frozenset({b"maplib", b"shadow_obj", b"trace_obj"})
"""Statements that name a file. The file contains either textures in an older form or a mesh for shadows or reflections.
The file is not read.
"""

BYTE_ORDER_MARK = b"\xef\xbb\xbf"
COMMENT = b"#"
BLANK = b""

KNOWN = (
    frozenset(NUMBER_STATEMENTS)
    | FACE_STATEMENTS
    | STATE_STATEMENTS
    | ACTING_STATEMENTS
    | NOT_POLYGONAL
    | FREE_FORM
    | SUPERSEDED
    | CARRIED
    | {BYTE_ORDER_MARK, COMMENT, BLANK}
)
