"""Write an inspection as an HTML page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection


def render(result: FolderInspection, request: Request) -> str:
    """Make the HTML page. Frames are read again for pictures and for the texture fit."""
    from inspector.report.html.gather import gather
    from inspector.report.html.page import html_text

    return html_text(gather(result, request.progress))


FORMAT = ReportFormat("html", "a page with plots and pictures (see --report)", render)
