"""The demo data: a manta ray without defects, the same manta ray with defects, a defective kelp frond, and a buoy.

The scenario is the title sequence of a harbour aquarium. The buoy has a label for lettering. All files are computed.
"""

from __future__ import annotations

from inspector.demo.folders import demo_files, write_demo

__all__ = ["demo_files", "write_demo"]
