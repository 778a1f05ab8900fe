"""What a delivery's receipt says about the frames beside it, for checks. Written by delivery/receipt.py."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from inspector.sequence.storage import read_file

RECEIPT_NAME = "meshqc-receipt.json"
"""File name of a receipt, at the top of a corrected folder."""


@dataclass(frozen=True, slots=True)
class ReceiptMarks:
    """invented: path relative to the folder, with forward slashes -> how the frame was made ("hold", "blend")."""

    invented: Mapping[str, str] = field(default_factory=dict)


def read_marks(folder: Path) -> ReceiptMarks:
    """The marks of the receipt in `folder`; none if there is no receipt or it is not one of ours."""
    try:
        receipt = json.loads(read_file(folder / RECEIPT_NAME))
        files = receipt["files"]
        invented = {str(file["path"]): str(file["invented"]) for file in files if file.get("invented")}
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return ReceiptMarks()
    return ReceiptMarks(invented)
