"""Inspect, fix and verify sequences of mesh files, one file per frame.

`meshqc manual python` has examples.
"""

from __future__ import annotations

TYPE_CHECKING = False  # importing typing takes a third of the time of --help
if TYPE_CHECKING:
    from inspector.api import (
        Cancelled,
        Delivery,
        Finding,
        FolderInspection,
        Frame,
        Inspection,
        MeshqcError,
        Plan,
        Refusal,
        Severity,
        Where,
        deliver,
        inspect,
        plan,
        read_frame,
    )

__version__ = "0.1.0"

__all__ = [
    "Cancelled",
    "Delivery",
    "Finding",
    "FolderInspection",
    "Frame",
    "Inspection",
    "MeshqcError",
    "Plan",
    "Refusal",
    "Severity",
    "Where",
    "__version__",
    "deliver",
    "inspect",
    "plan",
    "read_frame",
]


def __getattr__(name: str) -> object:
    """Import a public name when it is first used, so that `import inspector` stays fast."""
    if name in __all__:
        from importlib import import_module

        return getattr(import_module("inspector.api"), name)
    raise AttributeError(f"module {__name__} has no attribute {name}")
