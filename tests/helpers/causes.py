"""The causes that a verdict must name, and the checks that report each cause.

If a cause has no check, the tool can't report it yet.
"""

from __future__ import annotations

from collections.abc import Mapping

CAUSES: Mapping[str, frozenset[str]] = {
    cause: frozenset(checks.split())
    for cause, checks in {
        # time and frame numbers
        "frames in another order": "swapped-frames",
        "frame of another take": "pop centre-jump size-jump",
        "frozen": "frozen",
        "dropped": "dropped-frames",
        "another pace": "pace-change",
        "off the cycle": "pop loop",
        "missing frame": "missing-frames",
        "numbers shifted": "shifted-numbers",
        "outside the stated range": "frames-outside",
        # defects of single parts or frames
        "vertices off": "spike",
        "part off": "pop spike",
        "noise": "jitter noisy-frame",
        "moved": "centre-jump",
        "slightly moved": "pop centre-jump",
        "scaled": "size-jump",
        "other units": "scale-suspect",
        "mirrored": "winding",
        "turned": "up-axis-suspect",
        "rounded": "few-decimals uv-values",
        # topology
        "vertex order": "vertex-order",
        "face order": "face-order",
        "turned faces": "winding",
        "other faces": "changed-faces",
        "wrong index": "changed-faces boundary-edges",
        "index range": "index-range",
        "faces lost": "face-count",
        # files
        "unreadable": "unreadable",
        "cut at a line": "unreadable face-count",
        "bad number": "bad-number",
        # UVs and normals
        "other UV indices": "uv-mismatch",
        "other UVs": "uv-values",
        "UVs missing": "no-uvs partial-uvs",
        "layout outside the square": "uv-outside",
        "normals missing": "missing-normals",
        "normals reversed": "reversed-normals",
        # materials
        "library missing": "library-missing",
        "texture missing": "texture-missing",
        "no material": "faces-without-material",
        "other material": "materials-change material-undefined material-numbering groups-change",
    }.items()
}  # fmt: skip
