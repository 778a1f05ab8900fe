"""The receipt: what was done to each file, for programs; and the list of digests, for `sha256sum -c`."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from inspector import __version__
from inspector.delivery.journal import Written
from inspector.delivery.model import Plan
from inspector.delivery.sources import Sources
from inspector.delivery.write import source_name
from inspector.fixes.base.registry import fix_by_id
from inspector.sequence.settings import frame_json

FORMAT = 1
SUMS_NAME = "SHA256SUMS"


def receipt_of(plan: Plan, files: Sequence[Written], sources: Sources) -> Mapping[str, object]:
    """JSON-able. `before` of a file: digests of the files that it comes from; `invented`: how it was made, or null.

    sources: every file of the source that was read, those of dropped and replaced frames too.
    """
    return {
        "format": FORMAT,
        "tool": {"name": "meshqc", "version": __version__},
        "source": str(plan.inspection.root),
        "fixes": [
            {
                "sequence": one.key,
                "fix": step.fix,
                "title": fix_by_id(step.fix).title,
                "kind": fix_by_id(step.fix).kind.value,
                "parameters": step.parameters,
                "frames": _numbers(step.frames),
                "summary": step.summary,
                "answers": step.answers,
            }
            for one in plan.sequences
            for step in one.steps
        ],
        "invented": [
            {"sequence": one.key, "frame": frame_json(slot.number), "file": slot.file.text, "made": slot.made}
            for one in plan.sequences
            for slot in one.slots
            if slot.made is not None
        ],
        "files": [
            {
                "path": file.path,
                "before": [{"path": path, "sha256": digest} for path, digest in file.sources],
                "after": file.sha256,
                "fixes": file.fixes,
                "invented": file.invented,
            }
            for file in files
        ],
        "sources": [
            {"path": source_name(plan, path), "sha256": digest} for path, digest in sorted(sources.digests.items())
        ],
    }


def receipt_bytes(receipt: Mapping[str, object]) -> bytes:
    """ASCII JSON; undecodable bytes of names are surrogate escapes."""
    return (json.dumps(receipt, indent=1) + "\n").encode("ascii")


def sums_bytes(digests: Iterable[tuple[str, str]]) -> bytes:
    """Lines `DIGEST  PATH` from (path, digest). A name with a backslash or a line end is escaped, and its line begins
    with a backslash, as the GNU coreutils manual says under "md5sum invocation"."""
    lines = []
    for path, digest in digests:
        name = os.fsencode(path)
        escaped = name.replace(b"\\", b"\\\\").replace(b"\n", b"\\n").replace(b"\r", b"\\r")
        mark = b"\\" if escaped != name else b""
        lines.append(mark + digest.encode("ascii") + b"  " + escaped + b"\n")
    return b"".join(lines)


def _numbers(frames: Iterable[Fraction]) -> list[int | float]:
    return [frame_json(number) for number in frames]
