"""Inspect, fix and prove sequences of one mesh file per frame.

From Python: `inspect`, `read_frame`, `plan`, `deliver` (see inspector/api.py); README has an example.
"""

from __future__ import annotations

TYPE_CHECKING = False  # the module that has it takes a third of the time of --help
if TYPE_CHECKING:
    from inspector.api import deliver, inspect, plan, read_frame

__version__ = "0.1.0"

__all__ = ["__version__", "deliver", "inspect", "plan", "read_frame"]


def __getattr__(name: str) -> object:
    """Imports what is asked for, so that `import inspector` and --help stay quick."""
    if name in __all__:
        from importlib import import_module

        return getattr(import_module("inspector.api"), name)
    raise AttributeError(f"module {__name__} has no attribute {name}")
