"""Write an inspection as one JSON document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection


def render(result: FolderInspection, _: Request) -> str:
    """Write the JSON document about a folder as one line."""
    from inspector.report.document import folder_document, json_text

    return json_text(folder_document(result))


FORMAT = ReportFormat("json", "everything, as one JSON document", render)
