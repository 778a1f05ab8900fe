"""The page's section about a receipt.

It shows the receipt as it was written, without comparing it with the files.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from inspector.names import counted
from inspector.report.html.elements import Element, el, terms
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME, read_receipt

_SHOWN = 200
"""Maximum number of rows in the table of files."""

Receipt = Mapping[str, Any]


def existing_receipt(folder: Path) -> Receipt | None:
    """Read the receipt in a folder; None if there is none, or if it is unreadable, damaged or from another program."""
    try:
        receipt = read_receipt(folder)
        receipt_section(receipt)
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    return receipt if isinstance(receipt, dict) else None


def receipt_section(receipt: Receipt) -> Element:
    """Make the section about a receipt.

    Raises:
        KeyError, TypeError, AttributeError: The receipt is damaged, or another program wrote it.
    """
    files, invented = receipt["files"], receipt["invented"]
    return el(
        "section",
        el("h2", "Receipt", id="receipt", tabindex="-1"),
        el("p", f"{RECEIPT_NAME} records the following. To compare the receipt with the files, run meshqc verify."),
        terms(
            [
                ("written by", f"meshqc {receipt['tool']['version']}"),
                ("source", str(receipt["source"])),
                ("fixes", [el("div", f"{fix['title']} ({fix['kind']}): {fix['summary']}") for fix in receipt["fixes"]]),
                ("added frames", ", ".join(f"{one['file']} ({one['made']})" for one in invented[:_SHOWN]) or "none"),
                ("files", counted(len(files), "file")),
            ]
        ),
        el("details", el("summary", "Digests of the files (SHA-256)"), _table(files)),
        aria_labelledby="receipt",
    )


def _table(files: list[Mapping[str, Any]]) -> Iterator[Element]:
    rows = [
        el(
            "tr",
            el("th", str(file["path"]), scope="row"),
            el("td", ", ".join(map(str, file["fixes"])) or "unchanged"),
            el("td", el("code", str(file["after"]))),
        )
        for file in files[:_SHOWN]
    ]
    heads = [el("th", title, scope="col") for title in ("file", "fixes", "SHA-256")]
    table = el("table", el("thead", el("tr", heads)), el("tbody", rows))
    yield el("div", table, class_="wide", tabindex="0", role="group", aria_label="digests of the files")
    if len(files) > _SHOWN:
        yield el("p", f"and {len(files) - _SHOWN:,} more; {RECEIPT_NAME} lists all files")
