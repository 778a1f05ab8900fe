"""Read the receipt of a delivery, and the frame numbers that it states. Receipts are written by delivery/receipt.py."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import fraction_of_json

RECEIPT_BYTES = 1 << 27
"""Maximum size of a receipt, in bytes: enough for 600,000 files."""

RECEIPT_NAME = "meshqc-receipt.json"
"""File name of the receipt, which is in the root of a delivery."""

NOT_OURS = (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError, ZeroDivisionError)
"""The errors that reading a receipt can raise if another program wrote or changed it."""

StatedFrames = Mapping[tuple[str, str], frozenset[Fraction]]
"""The numbers of all frames of each sequence. The key consists of the sequence's folder (relative to the receipt's
folder) and the sequence's stem."""


def read_receipt(folder: Path) -> Any:
    """Read the JSON document of a receipt. Its content is not checked.

    Raises:
        OSError: The receipt can't be read, is too large, or is a link that leads outside the folder.
        ValueError: The receipt is not JSON.
    """
    scope, path = Scope(folder), folder / RECEIPT_NAME
    if scope.place(path).stat().st_size > RECEIPT_BYTES:
        raise OSError(0, f"larger than {RECEIPT_BYTES:,} bytes")
    return json.loads(scope.read(path))


def frames_in(receipt: Any) -> StatedFrames:
    """Return the frame numbers that a receipt states; empty if it states none, as in receipts from earlier versions.

    Because the receipt may contain anything, this function may raise any of NOT_OURS.
    """
    return {
        (str(one["folder"]), str(one["stem"])): frozenset(map(fraction_of_json, one["numbers"]))
        for one in receipt.get("frames", ())
    }


def stated_frames(folder: Path) -> StatedFrames:
    """Return the frame numbers that the receipt in `folder` states; empty if there is no valid receipt."""
    try:
        return frames_in(read_receipt(folder))
    except NOT_OURS:
        return {}
