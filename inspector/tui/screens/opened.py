"""The screens that are opened with keys of the main screen. This module is not imported until the main screen is
visible."""

from __future__ import annotations

from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.screens.export_screen import ExportScreen
from inspector.tui.screens.finding_screen import FindingScreen
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.screens.plots_screen import PlotsScreen
from inspector.tui.screens.uv_screen import UvScreen
from inspector.tui.screens.viewer_screen import ViewerScreen

__all__ = ["CompareScreen", "ExportScreen", "FindingScreen", "FitScreen", "PlotsScreen", "UvScreen", "ViewerScreen"]
