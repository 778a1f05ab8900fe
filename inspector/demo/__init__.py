"""The demo data: a manta ray without defects, the same manta ray with defects, a defective kelp frond, and a buoy.

The scenario is the title sequence of a harbour aquarium: a manta ray swims past, a kelp frond sways, and a mooring buoy
bobs. The buoy has a label for lettering. All files are computed. An installed package can therefore write them
anywhere, and a test can compare them with fixtures/.
"""

from __future__ import annotations

from inspector.demo.folders import demo_files, write_demo

__all__ = ["demo_files", "write_demo"]
